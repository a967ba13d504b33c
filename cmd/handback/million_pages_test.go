package main

import (
	"fmt"
	"io"
	"net/http"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// longPages measures pages of a long history over loopback, and one durable act.
func longPages(b *testing.B, dir string) {
	c := &dayClinic{t: b, clock: &dayClock{}, dir: dir}
	c.open()
	browser := longReader(b, c)
	kits, err := c.store.KitsNumbered(b.Context(), "17")
	require.NoError(b, err)
	kit := kits[0]
	for _, p := range append(kitPages(browser, kit), trailPages(b, c)...) {
		b.Run("page/"+p.name, func(b *testing.B) { onePage(b, browser.client, "http://"+c.addr+p.path) })
	}
	b.Run("page/report", func(b *testing.B) {
		for b.Loop() {
			browser.open("/figures/report")
			browser.press("Make the report")
			require.Equal(b, http.StatusOK, browser.status)
		}
	})
	b.Run("write/act", func(b *testing.B) {
		for b.Loop() {
			c.clock.step(time.Second)
			_, err := c.store.Do(b.Context(), sqlite.Request{Actor: c.boss,
				Cmd: reprocess.Move{Kit: kit.ID, Place: fmt.Sprint("shelf ", c.clock.Now().Mono%7)}})
			require.NoError(b, err)
		}
	})
}

// longReader is the browser of somebody with every role.
func longReader(b *testing.B, c *dayClinic) *plainBrowser {
	ada, err := sqlite.Get[reprocess.Person](b.Context(), c.store, reprocess.TablePerson,
		reprocess.FirstSupervisorID)
	require.NoError(b, err)
	c.boss = reprocess.Actor{Person: ada, Signed: true}
	size, err := c.store.Size(b.Context())
	require.NoError(b, err)
	reader := fmt.Sprint("reader", size) // a kept ledger has those of earlier runs
	made, err := c.store.Do(b.Context(), sqlite.Request{Actor: c.boss, Cmd: reprocess.SetPerson{
		Person: reprocess.Person{Name: "Rea Reader", SignIn: reader, Roles: reprocess.Roles()}}})
	require.NoError(b, err)
	id := made.Events[0].Event.(reprocess.PersonSet).ID
	require.NoError(b, c.store.GiveSecret(b.Context(), id, dayPassword))
	browser := c.plain()
	browser.enrol(reader, dayPassword)
	return browser
}

// longPage is one page to be measured.
type longPage struct{ name, path string }

// kitPages are what people at the bench and at the desk open, and the papers about one device.
func kitPages(browser *plainBrowser, kit *reprocess.Kit) []longPage {
	at := "/kit/" + kit.ID
	browser.open(at + "/papers")
	browser.press("Make the device record", "piece", kit.Pieces[0], "asked", "an inspector")
	return []longPage{{"home", "/"}, {"kit", at}, {"desk", "/desk/kit/" + kit.ID},
		{"bench", "/bench"}, {"history", at + "/history"}, {"papers", at + "/papers"},
		{"record", browser.at.RequestURI()}, {"overdue", "/overdue"}, {"lots", "/lots"},
		{"called-back", "/called-back"}}
}

// trailPages are the audit trail, whole and by its filters, and the figures.
func trailPages(b *testing.B, c *dayClinic) []longPage {
	newest, err := c.store.Entries(b.Context(), sqlite.Filter{Act: reprocess.ActLot}, 0, 1)
	require.NoError(b, err)
	lot := newest[0].Events[0].Event.(reprocess.LotSet).Number
	to, from := reprocess.DateIn(newest[0].At, nil), reprocess.DateIn(newest[0].At, nil).AddDays(-30)
	oldest, err := c.store.Entry(b.Context(), 1)
	require.NoError(b, err)
	begin := reprocess.DateIn(oldest.At, nil)
	return []longPage{{"trail", "/trail"}, {"trail-kit", "/trail?kit=17"}, {"trail-person", "/trail?person=S1"},
		{"trail-act", "/trail?act=release"}, {"trail-refused", "/trail?result=refused"},
		{"trail-lot", "/trail?lot=" + lot}, {"trail-month", fmt.Sprintf("/trail?from=%s&to=%s", from, to)},
		{"trail-words-kit", "/trail?kit=17&words=booklet"}, {"trail-words", "/trail?words=" + lot},
		{"trail-words-none", "/trail?words=zebra"}, {"trail-words-two-letters", "/trail?words=xq"},
		{"trail-words-common", "/trail?words=released"}, {"trail-words-person", "/trail?person=S1&words=zebra"},
		{"trail-site", "/trail?site=elsewhere"}, {"trail-first-week", fmt.Sprintf("/trail?from=%s&to=%s", begin, begin.AddDays(6))},
		{"trail-entry", "/trail/1000"}, {"figures", "/figures"}}
}

// onePage reads a page, after once that does not count: cpu-ms is processor time of this
// process, which is server and reader.
func onePage(b *testing.B, client *http.Client, at string) {
	read := func() {
		r, err := client.Get(at)
		require.NoError(b, err)
		_, err = io.Copy(io.Discard, r.Body)
		require.NoError(b, err)
		r.Body.Close()
		require.Equal(b, http.StatusOK, r.StatusCode)
	}
	read()
	before := processorTime(b)
	for b.Loop() {
		read()
	}
	b.ReportMetric((processorTime(b)-before).Seconds()*1000/float64(b.N), "cpu-ms")
}

// processorTime is what this process used so far.
func processorTime(b *testing.B) time.Duration {
	var u syscall.Rusage
	require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
