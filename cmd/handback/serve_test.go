package main

import (
	"bufio"
	"context"
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What would let strangers listen is refused unless somebody said so in words.
func TestServeRefusesWhatTravelsUnprotected(t *testing.T) {
	dir := t.TempDir()
	for says, args := range map[string][]string{
		"--data is missing":               {"serve"},
		"can be reached from other":       {"serve", "--data", dir, "--addr", "0.0.0.0:0"},
		"can be reached":                  {"serve", "--data", dir, "--addr", ":0"},
		"reached from other machines":     {"serve", "--data", dir, "--addr", "[::]:0"},
		"takes the words 'I accept'":      {"serve", "--data", dir, "--plain-http", "yes"},
		"belong together":                 {"serve", "--data", dir, "--tls-cert", "x.pem"},
		"exclude each other":              {"serve", "--data", dir, "--tls-cert", "x", "--tls-key", "y", "--plain-http", "I accept"},
		"cannot be used":                  {"serve", "--data", dir, "--addr", "127.0.0.1:0", "--tls-cert", "no.pem", "--tls-key", "no.pem"},
		"--base-url is missing":           {"serve", "--data", dir, "--addr", "0.0.0.0:0", "--plain-http", "I accept"},
		"cannot be listened on":           {"serve", "--data", dir, "--addr", "127.0.0.1:99999"},
		"has more than scheme and host":   {"serve", "--data", dir, "--addr", "127.0.0.1:0", "--base-url", "http://h/path"},
		"is one argument too many":        {"serve", "--data", dir, "extra"},
		"it must begin with https":        {"serve", "--data", dir, "--addr", "127.0.0.1:0", "--base-url", "ftp://h"},
		"flag provided but not defined":   {"serve", "--data", dir, "--port", "80"},
		"give --tls-cert and --tls-key, ": {"serve", "--data", dir, "--addr", "192.0.2.1:0"},
	} {
		requireRefused(t, says, args...)
	}
}

func TestLoopback(t *testing.T) {
	for addr, want := range map[string]bool{"127.0.0.1:80": true, "localhost:80": true, "[::1]:80": true,
		"127.9.9.9:1": true, ":80": false, "0.0.0.0:80": false, "[::]:80": false, "192.0.2.1:80": false,
		"example.org:80": false, "127.0.0.1": false, "localhost.evil.example:80": false} {
		require.Equal(t, want, loopback(addr), addr)
	}
}

// The server starts on an empty folder, prints the one-time link, answers, and stops in order
// when it is told to.
func TestServeFromEmptyToStop(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	out, in := io.Pipe()
	code := make(chan int, 1)
	go func() {
		code <- run(ctx, []string{"serve", "--data", t.TempDir(), "--addr", "127.0.0.1:0"},
			streams{strings.NewReader(""), in, io.Discard})
		in.Close()
	}()
	lines := bufio.NewScanner(out)
	link := ""
	for link == "" && lines.Scan() {
		link = regexp.MustCompile(`http://127\.0\.0\.1:\d+/start/\S+`).FindString(lines.Text())
	}
	require.NotEmpty(t, link)
	res, err := http.Get(link)
	require.NoError(t, err)
	body, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	require.Equal(t, http.StatusOK, res.StatusCode)
	require.Contains(t, string(body), "You will be the first supervisor here.")
	http.DefaultClient.CloseIdleConnections()
	stop()
	require.Equal(t, exitAnswered, <-code)
}
