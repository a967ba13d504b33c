package main

import (
	"handback/reprocess"
	"handback/reprocess/picture"
	"handback/reprocess/recording"
	"handback/reprocess/sqlite"
)

// demoFiles keeps the invented tests and pictures the way the pages do.
type demoFiles struct{ store *sqlite.Store }

// Test keeps the file and its strip.
func (d demoFiles) Test(content []byte, j reprocess.JudgedTest, device string,
	at reprocess.Instant) (string, error) {
	if _, err := d.store.KeepFile(content); err != nil {
		return "", err
	}
	strip, err := recording.StripPNG(j.Recording, j.Lead, recording.StripText{Device: device,
		Date: reprocess.Clock(at, nil), SHA256: j.Test.SHA256})
	if err != nil {
		return "", err
	}
	return d.store.KeepFile(strip)
}

// Picture re-encodes a picture and keeps it.
func (d demoFiles) Picture(content []byte) (sha256 string, bytes int64, err error) {
	clean, err := picture.Clean(content)
	if err != nil {
		return "", 0, err
	}
	sha256, err = d.store.KeepFile(clean)
	return sha256, int64(len(clean)), err
}
