package lookback

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// Frozen is an answer as it was at one moment: the question, over which entries it was worked
// out, the lists, and what the record said then of everything that they name.
//
// Its bytes are lines of UTF-8 text, each ended by one line feed, its cells separated by one
// tab; no cell holds a tab or a line end. In this order:
//
//	handback-look-back 1                  the form
//	entries SIZE ROOT                     how many entries, and the hash over them
//	key NAME VALUE                        the question; names in the order of KeyNames
//	wearers KNOWN UNKNOWN                 distinct references; exposed loans without a known wearer
//	LIST ID                               the lists in the order of Lists, ids in order of bytes
//	source EXPOSED BEFORE                 by exposed loan, then in order of time
//	fact KIND ID KIT NAME STATE CYCLE LOAN CHANGES
//
// Facts are in order of kind and id, each once; KIND is cycle, loan, lot or
// piece. The same answer
// has the same bytes for ever, and ReadFrozen accepts no others.
type Frozen struct {
	Size    int64
	Root    string
	Keys    []Key
	Unknown int // exposed loans without a known wearer
	Result  Result
	Facts   []Fact
}

// Key is one key of the question, as it was typed.
type Key struct{ Name, Value string }

// Line is a key as an entry holds it, "lot E70".
func (k Key) Line() string { return k.Name + " " + k.Value }

// ReadKeys reads such lines.
func ReadKeys(lines []string) []Key {
	var keys []Key
	for _, line := range lines {
		name, value, _ := strings.Cut(line, " ")
		keys = append(keys, Key{name, value})
	}
	return keys
}

// Fact is what the record says of one thing that an answer names. State is one of the words of
// the record with its moment, such as "released 2027-05-10T08:40:00.000Z".
type Fact struct {
	Kind, ID    string // Kind is "cycle", "loan", "lot" or "piece"
	Kit         string // id, empty: in none
	Name        string // as people call it, such as "kit 12, recorder 0042"
	State       string
	Cycle, Loan string // of a piece: its open or latest cycle, its open loan
	Changes     int    // of a cycle: records corrected or taken back
}

const frozenForm = "handback-look-back\t1"

// KeyNames are the names of keys, in their order.
func KeyNames() []string {
	return []string{"product", "lot", "container", "piece", "model", "procedure", "person",
		"instrument", "from", "to"}
}

// List is one list of an answer by its name.
type List struct {
	Name string
	IDs  *[]string
}

// Lists gives the lists of an answer in the order in which they are written.
func (r *Result) Lists() []List {
	return []List{{"cycles", &r.Cycles}, {"caught", &r.Caught}, {"exposed", &r.Exposed},
		{"unreleased", &r.Unreleased}, {"unbounded", &r.Unbounded}, {"recall", &r.Recall},
		{"embargo", &r.Embargo}, {"restart", &r.Restart}, {"unresolved", &r.Unresolved},
		{"batches", &r.Batches}}
}

// Bytes writes the answer down; an error when a cell could not be told from another.
func (f Frozen) Bytes() ([]byte, error) {
	w := &frozenWriter{}
	w.line(frozenForm)
	w.cells("entries", strconv.FormatInt(f.Size, 10), f.Root)
	for _, name := range KeyNames() {
		at := slices.IndexFunc(f.Keys, func(k Key) bool { return k.Name == name })
		if at >= 0 {
			w.cells("key", name, f.Keys[at].Value)
		}
	}
	w.cells("wearers", strconv.Itoa(f.Result.Wearers), strconv.Itoa(f.Unknown))
	for _, l := range f.Result.Lists() {
		for _, id := range once(*l.IDs) {
			w.cells(l.Name, id)
		}
	}
	for _, exposed := range slices.Sorted(maps.Keys(f.Result.Sources)) {
		for _, before := range f.Result.Sources[exposed] {
			w.cells("source", exposed, before)
		}
	}
	for _, x := range f.factsInOrder() {
		w.cells("fact", x.Kind, x.ID, x.Kit, x.Name, x.State, x.Cycle, x.Loan,
			strconv.Itoa(x.Changes))
	}
	return w.b.Bytes(), w.err
}

// once gives ids in order, each once, in a list of its own.
func once(ids []string) []string {
	ids = slices.Clone(ids)
	slices.Sort(ids)
	return slices.Compact(ids)
}

func (f Frozen) factsInOrder() []Fact {
	facts := slices.Clone(f.Facts)
	slices.SortStableFunc(facts, compareFacts)
	return slices.CompactFunc(facts, func(a, b Fact) bool { return compareFacts(a, b) == 0 })
}

func compareFacts(a, b Fact) int {
	return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.ID, b.ID))
}

type frozenWriter struct {
	b   bytes.Buffer
	err error
}

func (w *frozenWriter) line(text string) { w.b.WriteString(text + "\n") }

func (w *frozenWriter) cells(cells ...string) {
	for _, c := range cells {
		if strings.ContainsAny(c, "\t\r\n") {
			w.err = fmt.Errorf("%q holds a tab or a line end and cannot be frozen", c)
		}
	}
	w.line(strings.Join(cells, "\t"))
}

// ReadFrozen reads what Bytes wrote, and nothing else: whatever it accepts is written to the
// same bytes again.
func ReadFrozen(content []byte) (Frozen, error) {
	f := Frozen{Result: Result{Sources: map[string][]string{}}}
	text, ended := strings.CutSuffix(string(content), "\n")
	lines := strings.Split(text, "\n")
	if !ended || lines[0] != frozenForm {
		return f, errors.New("this is not a frozen look-back")
	}
	for n, line := range lines[1:] {
		if err := f.take(strings.Split(line, "\t")); err != nil {
			return f, fmt.Errorf("line %d: %w", n+2, err)
		}
	}
	for _, id := range f.Result.Exposed {
		if f.Result.Sources[id] == nil {
			f.Result.Sources[id] = []string{}
		}
	}
	for _, l := range f.Result.Lists() {
		if *l.IDs == nil && l.Name != "batches" {
			*l.IDs = []string{}
		}
	}
	again, err := f.Bytes()
	if err == nil && !bytes.Equal(again, content) {
		err = errors.New("this frozen look-back is not written in its one form")
	}
	return f, err
}

// take reads one line.
func (f *Frozen) take(cells []string) error {
	widths := map[string]int{"entries": 3, "key": 3, "wearers": 3, "source": 3, "fact": 9}
	want, known := widths[cells[0]]
	if !known {
		want = 2
	}
	if len(cells) != want {
		return fmt.Errorf("%q has %d cells, %d belong there", cells[0], len(cells), want)
	}
	var err error
	switch cells[0] {
	case "entries":
		f.Root = cells[2]
		f.Size, err = strconv.ParseInt(cells[1], 10, 64)
	case "key":
		f.Keys = append(f.Keys, Key{cells[1], cells[2]})
	case "wearers":
		var second error
		f.Result.Wearers, err = strconv.Atoi(cells[1])
		f.Unknown, second = strconv.Atoi(cells[2])
		err = errors.Join(err, second)
	case "source":
		f.Result.Sources[cells[1]] = append(f.Result.Sources[cells[1]], cells[2])
	case "fact":
		x := Fact{cells[1], cells[2], cells[3], cells[4], cells[5], cells[6], cells[7], 0}
		x.Changes, err = strconv.Atoi(cells[8])
		f.Facts = append(f.Facts, x)
	default:
		return f.listed(cells[0], cells[1])
	}
	if err != nil {
		return fmt.Errorf("%q is no whole number", strings.Join(cells[1:], " "))
	}
	return nil
}

func (f *Frozen) listed(name, id string) error {
	for _, l := range f.Result.Lists() {
		if l.Name == name {
			*l.IDs = append(*l.IDs, id)
			return nil
		}
	}
	return fmt.Errorf("there is no list %q", name)
}

// Fact finds what is said of a thing.
func (f Frozen) Fact(kind, id string) (Fact, bool) {
	for _, x := range f.Facts {
		if x.Kind == kind && x.ID == id {
			return x, true
		}
	}
	return Fact{}, false
}

// Named lists everything that the answer names as facts without their state: cycles, loans and
// pieces, each once. What cannot be placed is among the cycles or the loans; it is tried as both.
func (r *Result) Named() (cycles, loans, pieces []string) {
	cycles = append(cycles, r.Cycles...)
	cycles = append(cycles, r.Unresolved...)
	for _, list := range [][]string{r.Exposed, r.Unreleased, r.Unbounded, r.Unresolved} {
		loans = append(loans, list...)
	}
	for _, before := range r.Sources {
		loans = append(loans, before...)
	}
	for _, list := range [][]string{r.Caught, r.Recall, r.Embargo, r.Restart} {
		pieces = append(pieces, list...)
	}
	return once(cycles), once(loans), once(pieces)
}
