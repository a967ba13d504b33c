package web

import (
	"errors"
	"fmt"
	"io"
	"os"
	"sync"

	"handback/reprocess"
	"handback/reprocess/export"
)

// copyRun is one file on its way to somebody: how much of the record was read for it, and how
// much of it was taken. Safe for use by the writer, the connection and who asks about it.
type copyRun struct {
	mu    sync.Mutex
	run   int // which one under its entry, from 1
	began reprocess.Instant
	read  int64 // entries, of this time through
	of    int64 // entries of the record
	times int   // how often it was read through before
	sent  int64 // bytes that went out
	size  int64 // bytes of the whole file; 0: not known before its end
	state copyState
}

type copyState int

const (
	copyReading copyState = iota
	copySent
	copyBroken
)

// entries counts entries as they go by.
func (r *copyRun) entries(all export.Entries) export.Entries {
	return func(yield func([]byte, error) bool) {
		r.mu.Lock()
		if r.read > 0 {
			r.times++
		}
		r.read = 0
		r.mu.Unlock()
		for body, err := range all {
			if err == nil {
				r.mu.Lock()
				r.read++
				r.mu.Unlock()
			}
			if !yield(body, err) {
				return
			}
		}
	}
}

// sending hands the file out and sees how that ends: by its end, or before it.
func (r *copyRun) sending(file io.ReadCloser, size int64) io.ReadCloser {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.size = size
	return &watched{file, r}
}

// broke notes that the file will never be whole.
func (r *copyRun) broke() { r.end(0, copyBroken) }

// end counts what went out; the first end stands.
func (r *copyRun) end(sent int, state copyState) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.sent += int64(sent)
	switch {
	case r.state != copyReading:
	case r.size > 0 && r.sent == r.size:
		r.state = copySent
	default:
		r.state = state
	}
}

// watched is a file that tells how it was taken.
type watched struct {
	io.ReadCloser
	run *copyRun
}

func (w *watched) Read(b []byte) (int, error) {
	n, err := w.ReadCloser.Read(b)
	switch {
	case errors.Is(err, io.EOF):
		w.run.end(n, copySent)
	case err != nil:
		w.run.end(n, copyBroken)
	default:
		w.run.end(n, copyReading)
	}
	return n, err
}

// Close before the end is the reader who left.
func (w *watched) Close() error {
	w.run.broke()
	return w.ReadCloser.Close()
}

// copyTold is the answer to how far a file is.
type copyTold struct {
	Run  int    `json:"run"` // which saving under this entry, from 1; 0: none yet
	Told string `json:"told"`
	Done int64  `json:"done"` // of Of, for the bar
	Of   int64  `json:"of"`
	Over bool   `json:"over"` // nothing more will happen
}

// told says how far it is. Only the browser knows whether it has kept what was sent.
func (r *copyRun) told() copyTold {
	r.mu.Lock()
	defer r.mu.Unlock()
	of := max(r.of, r.read) // an evidence file holds the entry about itself as well
	read := fmt.Sprintf("%d of %s", r.read, entriesOf(of))
	switch {
	case r.state == copySent:
		return copyTold{r.run, "All of it was sent: " + sizeInWords(r.sent) +
			". Your browser says when it is saved.", 1, 1, true}
	case r.state == copyBroken:
		return copyTold{r.run, "The file broke off at " + read +
			". Nothing of it is whole: save it again.", r.read, of, true}
	case r.size > 0:
		return copyTold{r.run, fmt.Sprintf("The file is made. %s of %s sent.", sizeInWords(r.sent),
			sizeInWords(r.size)), r.sent, r.size, false}
	case r.times > 0:
		return copyTold{r.run, read + " read, once more.", r.read, of, false}
	}
	return copyTold{r.run, read + " read.", r.read, of, false}
}

// sizeInWords is a number of bytes as people say it.
func sizeInWords(n int64) string {
	switch {
	case n == 1:
		return "1 byte"
	case n < 10_000:
		return fmt.Sprintf("%d bytes", n)
	case n < 10_000_000:
		return fmt.Sprintf("%d kB", n/1000)
	}
	return fmt.Sprintf("%d MB", n/1_000_000)
}

// copyRuns are the files of the last hour, by the entry that says that they were taken out.
type copyRuns struct {
	mu   sync.Mutex
	runs map[int64]*copyRun
}

// begin starts to watch a file; an earlier one under the same entry is forgotten, and so is
// what can no longer be fetched.
func (c *copyRuns) begin(t *copyTicket, now reprocess.Instant) *copyRun {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.runs == nil {
		c.runs = map[int64]*copyRun{}
	}
	for seq, r := range c.runs {
		if now.Sub(r.began) > copyLives {
			delete(c.runs, seq)
		}
	}
	r := &copyRun{run: 1, began: now, of: t.event.Size}
	if before := c.runs[t.seq]; before != nil {
		r.run = before.run + 1
	}
	c.runs[t.seq] = r
	return r
}

func (c *copyRuns) of(seq int64) *copyRun {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.runs[seq]
}

// tellCopy answers the script of the page that leads to a file. Who waits for a file is at
// work, so it keeps the session.
func tellCopy(v *Visit) error {
	t, err := v.ticket()
	if err != nil {
		return err
	}
	run := v.server.copies.of(t.seq)
	if run == nil {
		return v.c.JSON(copyTold{Told: "The server has not begun yet.", Of: t.event.Size})
	}
	return v.c.JSON(run.told())
}

// evidenceInto makes the whole evidence file before anything of it is sent.
func (v *Visit) evidenceInto(f *os.File, c export.Choice, run *copyRun) (size int64, err error) {
	if size, err = v.evidence(f, c, run); err != nil {
		run.broke()
	}
	return size, err
}
