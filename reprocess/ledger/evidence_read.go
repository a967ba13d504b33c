package ledger

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"iter"
	"strings"
)

// maxSmall bounds the members that are read whole: the page, key, checkpoint, manifest, and
// the line of the roll call.
const maxSmall = 64 << 10

// CheckOptions is what the reader of an evidence file brings along.
type CheckOptions struct {
	VKey     string  // trusted public key, from elsewhere; empty for none
	Retained []byte  // signed checkpoint kept from earlier; nil for none
	CSV      CSVFunc // to compute the tables again; nil leaves them with their hash alone
}

// How a retained checkpoint stands to the file's.
const (
	RetainedNone     = "none"           // none was given
	RetainedSame     = "same"           // the same size and root
	RetainedExtended = "extended"       // the file's log begins with the kept one
	RetainedUnknown  = "not_comparable" // this part of the log cannot tell
)

// Report says what an evidence file was found to be.
type Report struct {
	Checkpoint    Checkpoint
	VKey          string // as in the file
	KeyConfirmed  bool   // it is the key the reader brought along
	At            int64  // Unix milliseconds, when the file was made
	Scope         string
	Entries       int64
	First, Last   int64 // seq
	Whole         bool  // 1 to the checkpoint's size
	CSVRecomputed bool
	RollCalls     int64  // roll calls computed again (whole logs only)
	Kit           string // device whose entries are complete, by the roll call in RollEntry
	KitEntries    int64
	RollEntry     int64
	Retained      string // one of the four above
}

// CheckEvidence checks an evidence file of the given size, with memory that does not grow with
// it. A nil error means everything agrees; an error is the first difference found, or
// *Unreadable. It reads the entries about four times.
func CheckEvidence(r io.ReaderAt, size int64, opt CheckOptions) (*Report, error) {
	if !looksLikeZip(r, size) {
		return nil, &Unreadable{errors.New("this is not an evidence file; choose the .zip as exported")}
	}
	c := evidenceReader{opt: opt, r: r}
	var err error
	if c.sections, err = sections(r, size); err != nil {
		return nil, err
	}
	for _, step := range []func() error{c.sums, c.signatures, c.retain, c.hashes, c.tree, c.rollCall,
		c.table(memberEntriesCSV), c.table(memberCyclesCSV)} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	return &c.rep, nil
}

// evidenceReader is the check in progress.
type evidenceReader struct {
	opt      CheckOptions
	r        io.ReaderAt
	sections [memberCount]section
	found    [memberCount]Hash // SHA-256 of each member
	man      manifest
	retained *Checkpoint
	matched  bool        // the root at the retained size was reached and agreed
	kit      Head        // of the roll call's device, as far as its numbers run
	called   *RollCalled // by the entry the roll call line names
	line     *rollLine
	rep      Report
}

// open reads one member from its start.
func (c *evidenceReader) open(i int) io.Reader {
	return io.NewSectionReader(c.r, c.sections[i].at, int64(c.sections[i].size))
}

// small reads a whole member of bounded size.
func (c *evidenceReader) small(i int) ([]byte, error) {
	if c.sections[i].size > maxSmall {
		return nil, fmt.Errorf("%s is longer than %d bytes", memberNames[i], maxSmall)
	}
	b, err := io.ReadAll(c.open(i))
	return b, unreadable(err)
}

// unreadable marks an error of the source.
func unreadable(err error) error {
	if err == nil {
		return nil
	}
	return &Unreadable{fmt.Errorf("the file cannot be read: %w", err)}
}

// sums computes CRC-32 and SHA-256 of each member and holds the CRC-32.
func (c *evidenceReader) sums() error {
	buf := make([]byte, 64<<10)
	for i, name := range memberNames {
		crc, sha := crc32.NewIEEE(), sha256.New()
		if _, err := io.CopyBuffer(io.MultiWriter(crc, sha), c.open(i), buf); err != nil {
			return unreadable(err)
		}
		if crc.Sum32() != c.sections[i].crc {
			return fmt.Errorf("%s is damaged: its bytes do not have the sum the zip gives", name)
		}
		c.found[i] = Hash(sha.Sum(nil))
	}
	if c.sections[memberCheck].size > maxSmall {
		return fmt.Errorf("CHECK.txt is longer than %d bytes", maxSmall)
	}
	return nil
}

// signatures opens manifest and checkpoint with the key in the file, and holds that key
// against the reader's.
func (c *evidenceReader) signatures() error {
	key, err := c.small(memberKey)
	if err != nil {
		return err
	}
	vkey, ended := strings.CutSuffix(string(key), "\n")
	v, err := ParseVerifier(vkey)
	if err != nil || !ended {
		return errors.New("key.txt is not one public key and a line end")
	}
	c.rep.VKey = vkey
	if c.opt.VKey != "" {
		if _, err := ParseVerifier(c.opt.VKey); err != nil {
			return &Unreadable{err}
		}
		if c.opt.VKey != vkey {
			return errors.New("the file is signed with another key than the one you gave")
		}
		c.rep.KeyConfirmed = true
	}
	return c.openNotes(v)
}

// openNotes reads the two signed members.
func (c *evidenceReader) openNotes(v Verifier) error {
	msg, err := c.small(memberManifest)
	if err != nil {
		return err
	}
	text, err := Open(msg, v)
	if err != nil {
		return fmt.Errorf("MANIFEST.txt: %w", err)
	}
	if c.man, err = parseManifest(text); err != nil {
		return err
	}
	if msg, err = c.small(memberCheckpoint); err != nil {
		return err
	}
	if c.rep.Checkpoint, err = OpenCheckpoint(msg, v); err != nil {
		return fmt.Errorf("checkpoint.txt: %w", err)
	}
	if c.man.origin != c.rep.Checkpoint.Origin {
		return errors.New("MANIFEST.txt and checkpoint.txt name different logs")
	}
	c.rep.At, c.rep.Scope = c.man.at, c.man.scope
	return nil
}

// retain reads the checkpoint the reader kept, signed with the same key.
func (c *evidenceReader) retain() error {
	c.rep.Retained = RetainedNone
	if c.opt.Retained == nil {
		return nil
	}
	v, err := ParseVerifier(c.rep.VKey)
	if err != nil {
		return err
	}
	kept, err := OpenCheckpoint(c.opt.Retained, v)
	if err != nil {
		err = fmt.Errorf("the checkpoint you kept does not go with this file: %w", err)
		text, _, _ := strings.Cut(string(c.opt.Retained), "\n\n")
		if _, foreign := ParseCheckpoint(text + "\n"); foreign != nil {
			return &Unreadable{err}
		}
		return err // it is a checkpoint, so the log or the key is another one
	}
	now := c.rep.Checkpoint
	switch {
	case kept.Size == now.Size && kept.Root != now.Root:
		return fmt.Errorf("the log of %d entries is not the one of the checkpoint you kept", now.Size)
	case kept.Size > now.Size && kept.At <= now.At:
		return fmt.Errorf("the log is shorter (%d entries) than in the checkpoint you kept (%d)",
			now.Size, kept.Size)
	}
	c.retained = &kept
	return nil
}

// hashes holds each member against the manifest.
func (c *evidenceReader) hashes() error {
	for i, m := range c.man.members {
		at := i + memberEntries
		if m.hash != c.found[at] || m.size != int64(c.sections[at].size) {
			return fmt.Errorf("%s is not the one MANIFEST.txt lists", memberNames[at])
		}
	}
	return nil
}

// entries gives the bodies; each is valid until the next.
func (c *evidenceReader) entries() iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		lines := bufio.NewReaderSize(c.open(memberEntries), MaxBytes+1)
		for {
			line, err := lines.ReadSlice('\n')
			switch {
			case err == io.EOF && len(line) == 0:
				return
			case err == io.EOF || err == bufio.ErrBufferFull:
				yield(nil, fmt.Errorf("entries.ndjson has a line that does not end within %d bytes", MaxBytes))
				return
			case err != nil:
				yield(nil, unreadable(err))
				return
			}
			if !yield(line[:len(line)-1], nil) {
				return
			}
		}
	}
}

// Lines gives what a person reads, one sentence per line; the first is the result.
func (r *Report) Lines() []string {
	first := "internally consistent, key not confirmed: compare key.txt with the site's key on paper"
	if r.KeyConfirmed {
		first = "consistent, and signed with the key you gave"
	}
	lines := []string{first, fmt.Sprintf("log %s, checkpoint of %s over %d entries",
		r.Checkpoint.Origin,
		FormatTime(r.Checkpoint.At), r.Checkpoint.Size),
		fmt.Sprintf("%d entries, %d to %d, each at its place under the checkpoint's root; scope: %s",
			r.Entries, r.First, r.Last, r.Scope)}
	if r.CSVRecomputed {
		lines = append(lines, "both tables agree with the entries")
	} else {
		lines = append(lines, "the tables were not computed again, only their hashes were checked")
	}
	if r.Kit != "" {
		lines = append(lines, fmt.Sprintf("device %s: all its %d entries before entry %d are here, "+
			"according to the roll call in that entry", r.Kit, r.KitEntries, r.RollEntry))
	} else if !r.Whole {
		lines = append(lines, "this is a part of the log; nothing shows that none was left out of it")
	}
	return append(lines, retainedLines[r.Retained])
}

var retainedLines = map[string]string{
	RetainedNone:     "no earlier checkpoint was given, so a log replaced as a whole would not show",
	RetainedSame:     "the checkpoint you kept is the one in the file",
	RetainedExtended: "the log begins with the log of the checkpoint you kept",
	RetainedUnknown: "the checkpoint you kept cannot be compared with this file; " +
		"ask for the whole log, or for a file made after it",
}

// table gives the step that computes one table again and compares it byte by byte.
func (c *evidenceReader) table(i int) func() error {
	return func() error {
		if c.opt.CSV == nil {
			return nil
		}
		cmp := comparer{want: bufio.NewReader(c.open(i)), name: memberNames[i], row: 1}
		w := newBlockWriter(&cmp)
		err := c.opt.CSV(memberNames[i], c.entries(), w)
		if flushed := w.Flush(); err == nil {
			err = flushed
		}
		if cmp.err != nil {
			err = cmp.err
		}
		if err == nil {
			err = cmp.end()
		}
		c.rep.CSVRecomputed = err == nil
		return err
	}
}

// comparer is a writer that expects the bytes of a member.
type comparer struct {
	want *bufio.Reader
	name string
	row  int // the heading is row 1
	err  error
}

// Write compares and names the row of the first difference.
func (c *comparer) Write(b []byte) (int, error) {
	for done := 0; done < len(b) && c.err == nil; {
		want, err := c.want.Peek(min(len(b)-done, c.want.Size()))
		n := 0
		for n < len(want) && want[n] == b[done+n] {
			n++
		}
		c.row += bytes.Count(want[:n], []byte{'\n'})
		switch {
		case n < len(want):
			c.err = c.differs()
		case err == io.EOF:
			c.err = c.differs()
		case err != nil:
			c.err = unreadable(err)
		}
		done += n
		_, _ = c.want.Discard(n)
	}
	return len(b), c.err
}

// end expects that nothing is left.
func (c *comparer) end() error {
	if _, err := c.want.Peek(1); err == io.EOF {
		return nil
	}
	return c.differs()
}

func (c *comparer) differs() error {
	return fmt.Errorf("table %s, row %d: it is not what the entries give (the heading is row 1)",
		c.name, c.row)
}

// newBlockWriter gathers small writes.
func newBlockWriter(w io.Writer) *bufio.Writer { return bufio.NewWriterSize(w, 64<<10) }
