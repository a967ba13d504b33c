package reprocess

import (
	"slices"
	"time"
)

// NamedFile is a file kept beside the entries, as an event names it.
type NamedFile struct {
	SHA256 string
	Kind   FileKind
}

// FileKind says what a kept file is.
type FileKind string

// The kinds of kept files. Papers go with what they are about and are not removed by age.
const (
	FileRecording FileKind = "recording"
	FileStrip     FileKind = "strip"
	FilePicture   FileKind = "picture"
	FilePaper     FileKind = "paper"
	FileLookBack  FileKind = "answer of a look-back" // not removed by age either
)

// stays tells what is never removed by age.
func (k FileKind) stays() bool { return k == FilePaper || k == FileLookBack }

// FilesNamed lists the files that an event names as kept. A recording that could not be read
// is named by its hash and was never kept.
func FilesNamed(event Event) []NamedFile {
	var all []NamedFile
	add := func(kind FileKind, hashes ...string) {
		for _, h := range hashes {
			if h != "" {
				all = append(all, NamedFile{h, kind})
			}
		}
	}
	switch v := event.(type) {
	case StepRecorded:
		switch t := v.Record.Test; {
		case t == nil:
		case t.Kind == TestPhoto:
			add(FilePicture, t.SHA256)
		case t.Format != "":
			add(FileRecording, t.Hashes()...)
			add(FileStrip, t.Strip)
		}
	case HeightLearnt:
		add(FileRecording, v.SHA256, v.Signal)
	case PictureAdded:
		add(FilePicture, v.SHA256)
	case CheckRecorded:
		add(FilePaper, v.Done.SHA256)
	case DocumentAdded:
		add(FilePaper, v.SHA256)
	case DocumentRenewed:
		add(FilePaper, v.SHA256)
	case LookBackFrozen:
		add(FileLookBack, v.SHA256)
	}
	return all
}

// FileLine is what the entries say of one file, up to now.
type FileLine struct {
	SHA256  string
	Kind    FileKind
	Seq     int64   // newest entry that names it as kept
	At      Instant // of that entry
	Removed int64   // newest entry that removed it; it is gone when that is the later one
}

// Gone tells whether the entries say that the file was removed, and not kept again since.
func (l FileLine) Gone() bool { return l.Removed > l.Seq }

// FileBook is what the entries say of every file, by hash.
type FileBook map[string]FileLine

// Take reads one entry; entries are given in their order.
func (b FileBook) Take(e *Entry) {
	for _, box := range e.Events {
		for _, f := range FilesNamed(box.Event) {
			l := b[f.SHA256]
			if l.Kind.stays() {
				f.Kind = l.Kind // once a paper, kept as long as papers are
			}
			b[f.SHA256] = FileLine{f.SHA256, f.Kind, e.Seq, e.At, l.Removed}
		}
		if v, ok := box.Event.(FilesRemoved); ok {
			for _, h := range v.Files {
				l := b[h]
				l.SHA256, l.Removed = h, e.Seq
				b[h] = l
			}
		}
	}
}

// Due lists the files that the clinic's rule removes: recordings, strips and pictures that no
// entry since that moment names, the oldest first.
func (b FileBook) Due(before Instant) []string {
	var lines []FileLine
	for _, l := range b {
		if !l.Gone() && !l.Kind.stays() && l.At < before {
			lines = append(lines, l)
		}
	}
	slices.SortFunc(lines, func(x, y FileLine) int {
		if x.Seq != y.Seq {
			return int(x.Seq - y.Seq)
		}
		if x.SHA256 < y.SHA256 {
			return -1
		}
		return 1
	})
	var hashes []string
	for _, l := range lines {
		hashes = append(hashes, l.SHA256)
	}
	return hashes
}

// KeptSince is the moment from which on recordings and pictures are kept: so many months ago,
// counted in the calendar of the clinic, the same day of the month; where a month is shorter,
// its days that are missing count into the next.
func (s Settings) KeptSince(now Now) Instant {
	zone := now.Zone
	if zone == nil {
		zone = time.UTC
	}
	return InstantOf(now.UTC.Time().In(zone).AddDate(0, -s.Rules().KeepMonths, 0))
}

// RemoveFiles takes recordings and pictures off the server that were kept as long as the
// clinic's rule asks. The store names them; whoever holds the whole log can name them again.
type RemoveFiles struct {
	Files []string `json:"files"`
	Since Instant  `json:"since"` // what was named from here on stays
	Size  int64    `json:"size"`  // entries there were when they were looked up
}

// FilesRemoved says which files were removed by rule. What earlier entries say of them stays.
type FilesRemoved struct {
	Files  []string `json:"files"`
	Months int      `json:"months"` // the rule on that day
}

// EventName is "files_removed".
func (FilesRemoved) EventName() string { return "files_removed" }

// ActRemoveFiles is a supervisor's, or the server's own once a day.
const ActRemoveFiles Act = "files_remove"

// MostRemoved is how many files one entry removes.
const MostRemoved = 200

// Act is "files_remove".
func (RemoveFiles) Act() Act { return ActRemoveFiles }

// Needs nothing.
func (RemoveFiles) Needs() Needs { return Needs{} }

func (r RemoveFiles) decide(c *Case) *Problem {
	switch {
	case len(r.Files) == 0:
		return conflict("nothing_due", "Nothing to do.",
			"No recording and no picture is older than the rule asks.")
	case len(r.Files) > MostRemoved || slices.ContainsFunc(r.Files, func(h string) bool {
		return !isHash(h)
	}):
		return invalid("files", "Try again.", "The files to be removed are not named by their hashes.")
	case r.Since > c.W.Settings.KeptSince(c.Now):
		return refuse("keep_longer", "Wait, or change the rule.",
			"These files are to be kept for %d months.", c.W.Settings.Rules().KeepMonths)
	case r.Size != c.Seq-1:
		return invalid("overtaken", "Try again.",
			"Something was recorded while the files were looked up.")
	}
	c.emit(FilesRemoved{Files: r.Files, Months: c.W.Settings.Rules().KeepMonths})
	return nil
}
