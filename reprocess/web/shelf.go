package web

import (
	"net/url"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// shelfPage puts released kits on a shelf, one scan after the other: the place is chosen once.
// Each label is answered at once by the state block; a refused kit does not end the row.
type shelfPage struct {
	Base
	State   State
	Said    string
	At      string // the place; empty: it is asked for
	Pick    Field
	Find    Field
	Heading string
	Lines   []Line // of a place: what was put there; else the places in use
}

// shelfShown is how many lines are shown.
const shelfShown = 60

// shelfAt is the page of one place.
func shelfAt(place string) string { return "/shelf?place=" + url.QueryEscape(place) }

func showShelf(v *Visit) error {
	place := v.Query("place")
	if place == "" {
		page, err := v.shelfPlaces()
		if err != nil {
			return err
		}
		return v.Show(page)
	}
	page, err := v.shelfPage(place)
	if err == nil && v.Query("kit") != "" {
		err = v.onShelf(page, v.Query("kit"))
	}
	if err != nil {
		return err
	}
	return v.Show(page)
}

// shelfPlaces asks for the place; those in use are one tap away.
func (v *Visit) shelfPlaces() (*shelfPage, error) {
	places, err := v.Store().Places(v.Context())
	if err != nil {
		return nil, err
	}
	page := &shelfPage{Base: Titled("Where do released kits go?"),
		Pick: TextField("place", "Place", v.Field("place"))}
	page.Pick.Required, page.Pick.Plain, page.Pick.List = true, true, "places"
	page.Pick.Hint = "Such as shelf A. It is asked once, for all kits of the row."
	for _, p := range withPlace(places) {
		if p != dirtyBox {
			page.Lines = append(page.Lines, Line{To: shelfAt(p), Words: p})
		}
	}
	return page, nil
}

func (v *Visit) shelfPage(place string) (*shelfPage, error) {
	page := &shelfPage{Base: Titled("Which kit goes to " + place + "?"), At: place,
		Find: CodeField("find", "Scan the label, or type the kit’s number", "")}
	page.Find.First, page.Find.Required, page.Find.Scan = true, true, ScanAgain
	var err error
	page.Lines, err = v.shelved(place)
	page.Heading = "Put there by you today: " + count(len(page.Lines), "kit", "kits")
	return page, err
}

// shelved lists what this person put there today and what still lies there, the newest first.
func (v *Visit) shelved(place string) ([]Line, error) {
	entries, err := v.Store().Entries(v.Context(), sqlite.Filter{By: v.Person.ID,
		Act: reprocess.ActMove, Result: reprocess.ResultDone, From: startOfDay(v.Now)}, 0, shelfShown)
	if err != nil {
		return nil, err
	}
	var lines []Line
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
		if k.Place == place && k.PlaceAt == e.At {
			lines = append(lines, Line{v.atKit(k.ID), "Kit " + k.Number,
				"Since " + timeOfDay(e.At, v.Now) + "."})
		}
	}
	return lines, nil
}

// onShelf answers for the kit of the last scan as it stands now, never from the address alone.
func (v *Visit) onShelf(page *shelfPage, kit string) error {
	w, err := v.Store().KitWorld(v.Context(), kit)
	if err != nil {
		return notKnown(err, "There is no such kit here.")
	}
	k := w.Kits[kit]
	answer := reprocess.CanHandOut(w, k, v.Now)
	if k.Place != page.At || !answer.Released {
		return nil
	}
	page.answer(deskState(answer, v.Now), "kit "+k.Number+", "+page.At)
	page.Said = "Kit " + k.Number + " is recorded at " + page.At + "."
	if v.Query("again") != "" {
		page.Said = "Kit " + k.Number + " is there already, since " +
			reprocess.Clock(k.PlaceAt, v.Now.Zone) + "."
	}
	if kept := keptWords(k, v.Now); kept != "" {
		page.Said += " " + kept
	}
	return nil
}

// answer makes the state block the heading, and its words the first of the title.
func (p *shelfPage) answer(s State, what string) {
	p.State, p.OwnHeading = s, true
	p.Title = s.Words + ": " + what
}

// putOnShelf takes one label of the row.
func putOnShelf(v *Visit) error {
	place := v.Field("place")
	if place == "" {
		page, err := v.shelfPlaces()
		if err != nil {
			return err
		}
		return v.Refuse(&reprocess.Problem{Code: reprocess.Invalid, Rule: "place",
			Text: "It is not said where the kits go.", Fix: "Name the place first."}, page)
	}
	found, err := v.findKit(v.Field("find"))
	if err != nil {
		return v.notOnShelf(place, err, UnsureState)
	}
	again, err := v.shelveOne(found.Kit, place)
	if err != nil {
		return v.notOnShelf(place, err, HeldState)
	}
	return v.Went(shelfAt(place)+"&kit="+url.QueryEscape(found.Kit)+again, "")
}

// shelveOne records nothing when the kit was put there since its release: the labels of recorder
// and phone open the same kit.
func (v *Visit) shelveOne(kit, place string) (again string, err error) {
	w, err := v.Store().KitWorld(v.Context(), kit)
	if err != nil {
		return "", err
	}
	if k := w.Kits[kit]; k.Place == place && k.Release != nil && k.PlaceAt >= k.Release.At &&
		reprocess.CanHandOut(w, k, v.Now).Released {
		return "&again=yes", nil
	}
	_, err = v.Do(reprocess.Shelve{Kit: kit, Place: place})
	return "", err
}

// notOnShelf says why, in the state block, and asks for the next label in an empty field.
func (v *Visit) notOnShelf(place string, err error, shape func(...string) State) error {
	p, status := judge(err)
	if p.Code == reprocess.Internal || p.Code == reprocess.Unavailable {
		return err
	}
	page, drawn := v.shelfPage(place)
	if drawn != nil {
		return drawn
	}
	lines := []string{p.Text}
	if p.Fix != "" {
		lines = append(lines, p.Fix)
	}
	page.answer(shape(lines...), p.Text)
	page.Said = "Read: " + v.Field("find") + ". Lay it aside and go on with the next."
	v.refused = p.Rule
	return v.send(status, page)
}

// shelfRoutes are the rows of the shelf.
func shelfRoutes() []Route {
	return scanning(as(both("/shelf", acts(reprocess.ActMove), "shelf", sampleShelf, showShelf,
		putOnShelf), "Shelf", "Which kits go on the shelf?"))
}

func sampleShelf() Page {
	p := &shelfPage{Base: Titled(""), At: "shelf A", Said: "Kit 17 is recorded at shelf A.",
		Find:    CodeField("find", "Scan the label, or type the kit’s number", ""),
		Heading: "Put there by you today: 1 kit",
		Lines:   []Line{{"/kit/K1", "Kit 17", "Since 14:05."}}}
	p.answer(ReleasedState("since 24 Nov 2026 14:05"), "kit 17, shelf A")
	return p
}
