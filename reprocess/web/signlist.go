package web

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// signPage signs a list of unremarkable kits with one secret, one entry each.
type signPage struct {
	Base
	Outcome []string // after a list of which some were refused
	Kits    Choices
	Meaning string
	Place   Field
	Known   []string // places used before
	Secret  Field
	Alone   []Line
}

func showSign(v *Visit) error {
	page, err := v.signPage(nil)
	if err != nil {
		return err
	}
	return v.Show(page)
}

// signPage sorts what awaits release into what a list may hold and what is opened alone.
func (v *Visit) signPage(ticked []string) (*signPage, error) {
	page := &signPage{Base: Titled("Which kits do you release?"), Secret: SignField(),
		Meaning: "Your signature says: " + reprocess.Meaning + ".", Place: whereTo(v.Field("place"))}
	if places, err := v.Store().Places(v.Context()); err == nil { // only a help for typing
		page.Known = withPlace(places)[1:]
	}
	page.Kits = Choices{Name: "kit", Legend: "Unremarkable, awaiting release", Many: true}
	worlds, err := v.awaitingWorlds()
	if err != nil {
		return nil, err
	}
	for _, a := range worlds {
		k := a.w.Kits[a.kit]
		if p := reprocess.ListSignable(a.w, k, v.Actor(), v.Now); p != nil {
			page.Alone = append(page.Alone, Line{kitAt(k.ID), "Kit " + k.Number, p.Error()})
			continue
		}
		page.Kits.Options = append(page.Kits.Options, Choice{Value: k.ID, Words: "Kit " + k.Number,
			Note: doneLine(a.w, k, v.Now)})
	}
	page.Kits = page.Kits.Pick(ticked...)
	return page, nil
}

type awaitingKit struct {
	w   *reprocess.World
	kit string
}

// awaitingWorlds loads each kit that awaits release with everything behind it.
func (v *Visit) awaitingWorlds() ([]awaitingKit, error) {
	list, err := v.Store().Kits(v.Context(), reprocess.AwaitingRelease)
	if err != nil {
		return nil, err
	}
	var kits []*reprocess.Kit
	for _, k := range list.Kits {
		if reprocess.KitState(k, list.Pieces) == reprocess.AwaitingRelease {
			kits = append(kits, k)
		}
	}
	slices.SortFunc(kits, func(a, b *reprocess.Kit) int {
		return cmp.Or(cmp.Compare(since(a), since(b)), reprocess.ByNumber(a, b))
	})
	var all []awaitingKit
	for _, k := range kits {
		w, err := v.Store().KitWorld(v.Context(), k.ID)
		if err != nil {
			return nil, err
		}
		all = append(all, awaitingKit{w, k.ID})
	}
	return all, nil
}

// doneLine is what was done, in one line for each track.
func doneLine(w *reprocess.World, k *reprocess.Kit, now reprocess.Now) string {
	var parts []string
	for _, id := range k.Pieces {
		p := w.Pieces[id]
		if p == nil || w.Cycles[p.Cycle] == nil {
			continue
		}
		parts = append(parts, upper(string(p.Kind))+": "+trackDone(w, w.Cycles[p.Cycle], now))
	}
	return strings.Join(parts, " ")
}

func trackDone(w *reprocess.World, c *reprocess.Cycle, now reprocess.Now) string {
	p := c.Progress()
	words := []string{count(len(p.Done), "step", "steps")}
	if best, ok := p.Wet.Best(); ok {
		words = append(words, fmt.Sprintf("wet %s of %s", spoken(int(best.MS/1000)),
			spoken(best.NeededS)))
		for _, id := range best.Lots {
			if lot := w.Lots[id]; lot != nil {
				words = append(words, "lot "+lot.Number)
			}
		}
	}
	if cell := p.Done[reprocess.StepBattery].Answered("cell"); cell != "" && w.Lots[cell] != nil {
		words = append(words, "cell "+w.Lots[cell].Name+" until "+reprocess.Day(w.Lots[cell].Expiry))
	}
	if p.Done[reprocess.StepFunction].Answered("signal") == "usable" {
		words = append(words, "test recording usable")
	}
	line := strings.Join(words, ", ")
	if last, ok := p.Done[reprocess.StepPacking]; ok {
		line += ", packed by " + didWords(last, now)
	}
	return line + "."
}

// signList signs each ticked kit by itself: what is refused is named, the others stand.
func signList(v *Visit) error {
	ticked := v.Fields("kit")
	err := error(nil)
	if len(ticked) == 0 {
		err = &reprocess.Problem{Code: reprocess.Invalid, Rule: "none_ticked",
			Text: "No kit is ticked.", Fix: "Tick what you have looked at."}
	}
	var actor reprocess.Actor
	if err == nil {
		actor, err = v.Sign()
	}
	if err != nil {
		page, drawn := v.signPage(ticked)
		if drawn != nil {
			return drawn
		}
		return v.Refuse(err, page)
	}
	done, refused, err := v.signEach(ticked, actor)
	if err != nil {
		return err
	}
	if len(refused) == 0 {
		return v.Went("/sign", "Released: "+strings.Join(done, ", ")+".")
	}
	return v.showOutcome(done, refused)
}

// signEach gives the numbers of the released kits and the sentences of the others. A fault of
// the program ends it; what was signed before stands and is in the trail.
func (v *Visit) signEach(kits []string, actor reprocess.Actor) (done, refused []string, err error) {
	for _, id := range kits {
		k, err := sqlite.Get[reprocess.Kit](v.Context(), v.Store(), reprocess.TableKit, id)
		if err != nil {
			return nil, nil, notKnown(err, "There is no such kit here.")
		}
		_, err = v.Store().Do(v.Context(), sqlite.Request{Actor: actor, PhoneAt: v.PhoneAt(),
			Cmd: reprocess.ReleaseKit{Kit: id, List: true, Place: v.Field("place")}, Key: v.keyFor(id)})
		p, _ := judge(err)
		switch {
		case err == nil:
			done = append(done, k.Number)
		case p.Code == reprocess.Internal, p.Code == reprocess.Unavailable:
			return nil, nil, err
		default:
			refused = append(refused, "Kit "+k.Number+" is not released. "+p.Error())
		}
	}
	return done, refused, nil
}

// keyFor gives each act of a list its own key under the form's.
func (v *Visit) keyFor(id string) string {
	if v.Key() == "" {
		return ""
	}
	return v.Key() + "-" + id
}

func (v *Visit) showOutcome(done, refused []string) error {
	page, err := v.signPage(nil)
	if err != nil {
		return err
	}
	if len(done) > 0 {
		page.Outcome = []string{"Released: " + strings.Join(done, ", ") + ". These stand."}
	}
	page.Outcome = append(page.Outcome, refused...)
	return v.send(statuses[reprocess.Refused], page)
}

func sampleSign() Page {
	p := &signPage{Base: Titled("Which kits do you release?"), Secret: SignField(),
		Outcome: []string{"Kit 19 is not released. Recorder: contact time 41 s of 60 s."},
		Meaning: "Your signature says: " + reprocess.Meaning + ".", Place: whereTo(""), Known: []string{"shelf A"},
		Alone: []Line{{"/kit/K3", "Kit 18", "It has something to look at."}}}
	p.Kits = Choices{Name: "kit", Legend: "Unremarkable", Many: true, Options: []Choice{
		{Value: "K1", Words: "Kit 17", Note: "Recorder: 8 steps, wet 1 min 04 s of 1 min."}}}
	return p
}
