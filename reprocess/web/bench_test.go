package web

import (
	"io"
	"net/http"
	"testing"
)

// benchmarkPage measures a page over loopback, sign-in checked and page drawn each time.
func benchmarkPage(b *testing.B, path func(*clinic) string) {
	c := newClinic(b)
	who := c.person("Dan Desk", "dan", "front_desk", "reprocessing")
	at := c.url(path(c))
	for b.Loop() {
		r, err := who.client.Get(at)
		if err != nil {
			b.Fatal(err)
		}
		n, err := io.Copy(io.Discard, r.Body)
		r.Body.Close()
		if err != nil || r.StatusCode != http.StatusOK || n == 0 {
			b.Fatal(r.Status, n, err)
		}
	}
}

// BenchmarkKitPage is the page that a label opens.
func BenchmarkKitPage(b *testing.B) {
	benchmarkPage(b, func(c *clinic) string { return c.path() })
}

// BenchmarkDeskPage is the answer to the front desk's one question.
func BenchmarkDeskPage(b *testing.B) {
	benchmarkPage(b, func(c *clinic) string { return "/desk/kit/" + c.kit })
}
