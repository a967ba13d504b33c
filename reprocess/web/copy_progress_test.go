package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	cdp "github.com/chromedp/cdproto/browser"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/export"
)

func bodies(n int) export.Entries {
	return func(yield func([]byte, error) bool) {
		for range n {
			if !yield([]byte("{}"), nil) {
				return
			}
		}
	}
}

func drain(entries export.Entries) {
	for range entries {
	}
}

// What is said at each point of a file's way.
func TestHowFarAFileIs(t *testing.T) {
	r := &copyRun{run: 1, of: 3}
	is := func(told string, done, of int64, over bool) {
		t.Helper()
		require.Equal(t, copyTold{1, told, done, of, over}, r.told())
	}
	is("0 of 3 entries read.", 0, 3, false)
	n := 0
	for range r.entries(bodies(3)) {
		if n++; n == 2 {
			is("2 of 3 entries read.", 2, 3, false)
		}
	}
	drain(r.entries(bodies(3)))
	is("3 of 3 entries read, once more.", 3, 3, false)
	drain(r.entries(bodies(4)))
	is("4 of 4 entries read, once more.", 4, 4, false)
	file := r.sending(io.NopCloser(strings.NewReader(strings.Repeat("x", 20_000))), 20_000)
	is("The file is made. 0 bytes of 20 kB sent.", 0, 20_000, false)
	_, err := io.CopyN(io.Discard, file, 9_999)
	require.NoError(t, err)
	is("The file is made. 9999 bytes of 20 kB sent.", 9_999, 20_000, false)
	_, err = io.CopyN(io.Discard, file, 10_001)
	require.NoError(t, err, "a body of known length is not read past its end")
	require.NoError(t, file.Close())
	is("All of it was sent: 20 kB. Your browser says when it is saved.", 1, 1, true)
	r.broke()
	is("All of it was sent: 20 kB. Your browser says when it is saved.", 1, 1, true)
	require.Equal(t, "1 byte, 12 MB", sizeInWords(1)+", "+sizeInWords(12_345_678))
}

// Every way in which a file breaks off: the reader leaves, the writing fails, it never begins.
func TestHowAFileBreaksOff(t *testing.T) {
	for name, end := range map[string]func(r *copyRun){
		"left": func(r *copyRun) {
			f := r.sending(io.NopCloser(strings.NewReader("rows")), 0)
			_, err := f.Read(make([]byte, 2))
			require.NoError(t, err)
			require.NoError(t, f.Close())
		},
		"left before the end of a length": func(r *copyRun) {
			f := r.sending(io.NopCloser(strings.NewReader("rows")), 4)
			_, err := f.Read(make([]byte, 3))
			require.NoError(t, err)
			require.NoError(t, f.Close())
		},
		"failed": func(r *copyRun) {
			f := r.sending(stream(func(io.Writer) error { return errors.New("the disk is gone") }), 0)
			_, err := io.ReadAll(f)
			require.Error(t, err)
			require.NoError(t, f.Close())
		},
		"never made": func(r *copyRun) { r.broke() },
	} {
		r := &copyRun{of: 7}
		drain(r.entries(bodies(2)))
		end(r)
		require.Equal(t, "The file broke off at 2 of 7 entries. Nothing of it is whole: save it again.",
			r.told().Told, name)
		require.True(t, r.told().Over, name)
	}
}

// An hour later a file cannot be fetched, so nothing is kept about it.
func TestFilesOfEarlierHoursAreForgotten(t *testing.T) {
	var c copyRuns
	first := c.begin(&copyTicket{seq: 1}, 1000)
	require.Same(t, first, c.of(1))
	again := c.begin(&copyTicket{seq: 1}, 2000)
	require.Same(t, again, c.of(1))
	require.Equal(t, 2, again.run)
	c.begin(&copyTicket{seq: 2}, reprocess.Instant(2000+copyLives.Milliseconds()))
	require.NotNil(t, c.of(1))
	c.begin(&copyTicket{seq: 2}, reprocess.Instant(2001+copyLives.Milliseconds()))
	require.Nil(t, c.of(1))
}

// farOf asks how far the file of an address is.
func farOf(t *testing.T, b *browser, file string) (told copyTold) {
	t.Helper()
	b.get(strings.Replace(file, "/file", "/far", 1))
	require.Equal(t, http.StatusOK, b.status, b.body)
	require.NoError(t, json.Unmarshal([]byte(b.body), &told))
	return told
}

// The server knows how far each kind of file is; nobody else is told.
func TestFarOfEveryForm(t *testing.T) {
	c := newClinic(t)
	c.release()
	_, err := c.store.Checkpoint(context.Background())
	require.NoError(t, err)
	b := c.auditor()
	for _, form := range []string{"entries", "cycles", "ndjson", "fhir", "evidence"} {
		file := fileOf(t, b, form, "kit", "17")
		told := farOf(t, b, file)
		require.Equal(t, "The server has not begun yet.", told.Told)
		require.False(t, told.Over)
		b.get(file)
		require.Equal(t, http.StatusOK, b.status)
		size := int64(len(b.body))
		told = farOf(t, b, file)
		require.Equal(t, "All of it was sent: "+sizeInWords(size)+
			". Your browser says when it is saved.", told.Told, form)
		require.True(t, told.Over)
		require.Equal(t, 1, told.Run)
	}
	file := fileOf(t, b, "entries")
	c.clock.step(time.Minute)
	other := c.person("Una Other", "una", reprocess.RoleAuditor)
	other.get(strings.Replace(file, "/file", "/far", 1))
	require.NotEqual(t, http.StatusOK, other.status)
}

// damaged makes a long record whose table breaks off in the middle: an entry there cannot be
// read. The lines before it are more than any buffer on the way holds.
func (c *clinic) damaged() {
	c.t.Helper()
	from := c.entryCount()
	for i := range 700 {
		c.must(reprocess.Move{Kit: c.kit, Place: fmt.Sprintf("a shelf with a name of thirty signs %d", i)})
	}
	out, err := exec.Command("sqlite3", filepath.Join(c.dir, "ledger.db"), "DROP TRIGGER entry_no_update",
		fmt.Sprintf("UPDATE entry SET body = X'7B' WHERE seq = %d", from+650)).CombinedOutput()
	require.NoError(c.t, err, "%s; install sqlite3", out)
}

// A table that breaks off is broken for the client that fetches it, and said to be.
func TestABrokenTableIsSaid(t *testing.T) {
	c := newClinic(t)
	c.damaged()
	b := c.auditor()
	file := fileOf(t, b, "entries")
	res, err := b.client.Get(c.url(file))
	require.NoError(t, err)
	part, err := io.ReadAll(res.Body)
	require.ErrorIs(t, err, io.ErrUnexpectedEOF)
	require.NoError(t, res.Body.Close())
	require.NotEmpty(t, part)
	told := farOf(t, b, file)
	require.Regexp(t, `^The file broke off at [0-9]+ of [0-9]+ entries\. Nothing of it is whole`, told.Told)
	require.True(t, told.Over)
}

// downloads are the files that the browser keeps, and the ends of its downloads.
func (p *phone) downloads() (dir string, ends func() cdp.DownloadProgressState) {
	p.t.Helper()
	dir = p.t.TempDir()
	progress := chromedp.Events(p.ctx, cdp.DownloadProgress)
	on := true
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := chromedp.Call(ctx, cdp.SetDownloadBehavior, cdp.SetDownloadBehaviorParams{
			Behavior: cdp.SetDownloadBehaviorBehaviorAllow, DownloadPath: dir, EventsEnabled: &on,
			BrowserContextID: chromedp.FromContext(p.ctx).BrowserContextID})
		return err
	}))
	return dir, func() cdp.DownloadProgressState {
		for e, err := range progress {
			require.NoError(p.t, err)
			if e.State != cdp.DownloadProgressStateInProgress {
				return e.State
			}
		}
		return ""
	}
}

func namesIn(t *testing.T, dir string) (names []string) {
	t.Helper()
	list, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range list {
		names = append(names, e.Name())
	}
	return names
}

// TestFilesInABrowser: a whole file is under its name, and the page says that all was sent; of
// a broken one there is nothing, and the page says so.
func TestFilesInABrowser(t *testing.T) {
	c := newClinic(t)
	c.person("Gil Auditor", "gil", reprocess.RoleAuditor)
	p := c.newPhone()
	p.open("/sign-in")
	p.signedIn("gil", testSecret)
	ready := func() string {
		p.open("/trail/copy")
		pick(p, "entries")
		p.press("Take it out")
		return ask[string](p, `document.querySelector("a.act").getAttribute("href").split("/")[3]`)
	}
	save := `document.querySelector("a.act").click(); true`
	over := `document.querySelector("[data-far-over]").textContent`
	dir, end := p.downloads()
	seq := ready()
	ask[bool](p, save)
	require.Equal(t, cdp.DownloadProgressStateCompleted, end())
	p.waitFor(over + `.startsWith("All of it was sent: ")`)
	require.Equal(t, []string{"entries-2026-11-24-" + seq + ".csv"}, namesIn(t, dir))
	p.shoot("trail-saved")
	c.damaged()
	dir, end = p.downloads()
	ready()
	ask[bool](p, save)
	require.Equal(t, cdp.DownloadProgressStateCanceled, end())
	p.waitFor(over + `.startsWith("The file broke off at ")`)
	require.Empty(t, namesIn(t, dir))
	p.axe()
	p.shoot("trail-broken")
	p.width(320, 568)
	p.fits()
}
