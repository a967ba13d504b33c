package web

import (
	"net/url"
	"time"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// takeInPage takes kits back one scan after the other. It keeps nothing of its own: the list
// is read from the trail, so it survives a reload and another phone.
type takeInPage struct {
	Base
	Said    string
	Find    Field
	Place   Field
	Known   []string
	Heading string
	Lines   []takeInLine
}

type takeInLine struct {
	Line
	Kit    string
	Closed bool // the parcel is not opened yet
}

// takenInShown is how many lines are shown.
const takenInShown = 60

func showTakeIn(v *Visit) error {
	page, err := v.takeInPage(v.Query("place"))
	if err != nil {
		return err
	}
	if kit := v.Query("again"); kit != "" {
		if page.Said, err = v.alreadyIn(kit); err != nil {
			return err
		}
	}
	return v.Show(page)
}

// alreadyIn says that a second label of the same kit was scanned.
func (v *Visit) alreadyIn(kit string) (string, error) {
	k, err := sqlite.Get[reprocess.Kit](v.Context(), v.Store(), reprocess.TableKit, kit)
	if err != nil {
		return "", notKnown(err, "There is no such kit here.")
	}
	return "Kit " + k.Number + " is in already, since " +
		reprocess.Clock(k.Back, v.Now.Zone) + ".", nil
}

func (v *Visit) takeInPage(place string) (*takeInPage, error) {
	if place == "" {
		place = dirtyBox
	}
	places, err := v.Store().Places(v.Context())
	if err != nil {
		return nil, err
	}
	page := &takeInPage{Base: Titled("Which kit came in?"), Place: placeField(place),
		Known: withPlace(places),
		Find:  CodeField("find", "Scan the label, or type the kit’s number", "")}
	page.Find.First, page.Find.Required, page.Find.Scan = true, true, ScanAgain
	page.Lines, err = v.takenIn()
	page.Heading = "Taken in by you today: " + count(len(page.Lines), "kit", "kits")
	return page, err
}

// takenIn lists what this person took back today, the newest first, each kit once.
func (v *Visit) takenIn() ([]takeInLine, error) {
	entries, err := v.Store().Entries(v.Context(), sqlite.Filter{By: v.Person.ID,
		Act: reprocess.ActReturn, Result: reprocess.ResultDone, From: startOfDay(v.Now)}, 0, takenInShown)
	if err != nil {
		return nil, err
	}
	var lines []takeInLine
	seen := map[string]bool{}
	for _, e := range entries {
		if seen[e.Kit] {
			continue
		}
		seen[e.Kit] = true
		k, err := sqlite.Get[reprocess.Kit](v.Context(), v.Store(), reprocess.TableKit, e.Kit)
		if err != nil {
			return nil, err
		}
		lines = append(lines, takeInLineOf(k, e, v.Now))
	}
	return lines, nil
}

func takeInLineOf(k *reprocess.Kit, e *reprocess.Entry, now reprocess.Now) takeInLine {
	line := takeInLine{Line: Line{deskAt(k.ID), "Kit " + k.Number,
		"In the house since " + reprocess.Clock(e.At, now.Zone) + "."}, Kit: k.ID}
	switch {
	case k.Back != e.At: // it has gone on since
	case k.Opened == 0:
		line.Closed = true
	default:
		line.Note += " Opened " + reprocess.Clock(k.Opened, now.Zone) + "."
	}
	for _, b := range e.Events {
		if back, ok := b.Event.(reprocess.TakenBack); ok && back.Return.Custody != "" {
			line.Note += " It was not recorded as out."
		}
	}
	return line
}

func startOfDay(now reprocess.Now) reprocess.Instant {
	zone := now.Zone
	if zone == nil {
		zone = time.UTC
	}
	t, err := time.ParseInLocation(reprocess.DateLayout, string(now.Today()), zone)
	if err != nil {
		return now.UTC
	}
	return reprocess.InstantOf(t)
}

// takeIn takes one kit back with nothing asked.
func takeIn(v *Visit) error {
	place := v.Field("place")
	if place == "" {
		place = dirtyBox
	}
	again, err := v.takeInOne(place)
	if err != nil {
		page, drawn := v.takeInPage(place)
		if drawn != nil {
			return drawn
		}
		page.Find.Value = v.Field("find")
		return v.Refuse(err, page)
	}
	to := "/take-in?place=" + url.QueryEscape(place)
	if again != "" {
		to += "&again=" + url.QueryEscape(again)
	}
	return v.Went(to, "")
}

// takeInOne gives the kit's id when it is in already: the labels of recorder and phone open
// the same kit, and the second scan must not set its clocks anew.
func (v *Visit) takeInOne(place string) (again string, err error) {
	found, err := v.findKit(v.Field("find"))
	if err != nil {
		return "", err
	}
	w, err := v.Store().KitWorld(v.Context(), found.Kit)
	if err != nil {
		return "", err
	}
	k := w.Kits[found.Kit]
	if k.Back >= startOfDay(v.Now) && !w.Loans[k.Loan].Open() &&
		reprocess.KitState(k, w.Pieces) == reprocess.Returned {
		return k.ID, nil
	}
	_, err = v.Do(reprocess.TakeBack{Kit: found.Kit, Return: reprocess.Return{Place: place}})
	return "", err
}

// openParcel starts the second waiting clock of one kit.
func openParcel(v *Visit) error {
	_, err := v.Do(reprocess.OpenParcel{Kit: v.Field("kit")})
	if err == nil {
		return v.Went("/take-in", "")
	}
	page, drawn := v.takeInPage("")
	if drawn != nil {
		return drawn
	}
	return v.Refuse(err, page)
}

func sampleTakeIn() Page {
	return &takeInPage{Base: Titled("Which kit came in?"), Said: "Kit 17 is in already.",
		Find: CodeField("find", "Scan the label", ""), Place: placeField(dirtyBox),
		Known: []string{dirtyBox}, Heading: "Taken in by you today: 1 kit",
		Lines: []takeInLine{{Line: Line{"/desk/kit/K1", "Kit 17", "In the house since 14:05."},
			Kit: "K1", Closed: true}}}
}
