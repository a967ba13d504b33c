package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The edges of a test on a person. Source: the order of steps of the practice notes, 7: a test
// that touched skin needs a conforming disinfection after it; the one allowed loop.

// The skin was touched whatever the test showed: a failed try on a person is not forgotten when
// the next one runs on the bench, or when the test is accepted not as written.
func TestAFailedTryOnAPersonTouchedSkinToo(t *testing.T) {
	disinfected := append(longEnough(), saidAt(StepDrying, "dry", "yes"))
	failed := func(worn string) Record {
		r := saidAt(StepFunction, "worn_by", worn, "signal", "no_signal")
		r.Answers[1].Effect = EffectAgain
		return r
	}
	passed := func(worn string) Record { return saidAt(StepFunction, "worn_by", worn) }
	accepted := Record{Kind: RecOverride, Step: StepFunction}
	for name, x := range map[string]struct {
		tries   []Record
		touched bool
		wiped   bool // the disinfection still counts
		tested  bool
	}{
		"on the bench":                {[]Record{passed("bench")}, false, true, true},
		"on a person":                 {[]Record{passed("person")}, true, false, true},
		"failed on a person":          {[]Record{failed("person")}, true, true, false},
		"failed on both":              {[]Record{failed("person"), failed("bench")}, true, true, false},
		"failed on one, then a bench": {[]Record{failed("person"), passed("bench")}, true, false, true},
		"failed, then accepted":       {[]Record{failed("person"), accepted}, true, false, true},
		"failed on the bench":         {[]Record{failed("bench"), passed("bench")}, false, true, true},
		"accepted on the bench":       {[]Record{failed("bench"), accepted}, false, true, true},
	} {
		p := foldRecords(append(disinfected[:len(disinfected):len(disinfected)], x.tries...)...)
		_, wiped := p.Done[StepDisinfection]
		_, dry := p.Done[StepDrying]
		_, tested := p.Done[StepFunction]
		require.Equal(t, []bool{x.touched, x.wiped, x.wiped, x.tested},
			[]bool{p.Touched, wiped, dry, tested}, name)
	}
}

// Only a whole disinfection afterwards ends it: a look at the old one does not, nor one too short.
func TestADisinfectionAfterTheSkin(t *testing.T) {
	touched := append(longEnough(), saidAt(StepDrying, "dry", "yes"),
		saidAt(StepFunction, "worn_by", "person"))
	again := func(ms int64) []Record {
		return []Record{wetted("B1", "D1", 100000), looked(RecLooksWet, 100000+ms)}
	}
	for name, x := range map[string]struct {
		more    []Record
		touched bool
	}{
		"nothing":         {nil, true},
		"only a look":     {[]Record{looked(RecLooksWet, 90000)}, true},
		"a moment less":   {again(59999), true},
		"the whole time":  {again(60000), false},
		"dry, not wetted": {[]Record{saidAt(StepDrying, "dry", "yes")}, true},
	} {
		p := foldRecords(append(touched[:len(touched):len(touched)], x.more...)...)
		require.Equal(t, x.touched, p.Touched, name)
		_, wiped := p.Done[StepDisinfection]
		require.Equal(t, !x.touched, wiped, name)
	}
}

// The whole way: failed on a person, passed on the bench, and the gate asks for the disinfection.
func TestTheGateAsksForTheDisinfectionAfterTheSkin(t *testing.T) {
	c := newClinic(t)
	ada := c.toTest(false)
	c.do(ada, testStep(nil, "worn_by", "person", "signal", "no_signal", "memory", "yes"))
	require.Equal(t, StepFunction, c.w.NextStep(c.w.Pieces["P18-1"]), "it is worn again at once")
	c.do(ada, testStep(nil, "worn_by", "bench", "signal", "usable", "memory", "yes"))
	require.Equal(t, StepDisinfection, c.w.NextStep(c.w.Pieces["P18-1"]))
	c.refused("order", ada, pack())
}

// --- what a pack is worth once a piece was taken out of it ---

// Work on a piece takes it out of its pack; a look at it, or a signature for a learner, does not.
func TestWhatOpensThePack(t *testing.T) {
	packed := append(longEnough(), saidAt(StepDrying, "dry", "yes"), saidAt(StepPacking))
	for _, x := range []struct {
		r     Record
		still bool
	}{
		{wetted("B1", "D1", 100000), false}, {Record{Kind: RecRepair}, false},
		{Record{Kind: RecPaperWet, Step: StepDisinfection, Paper: &Paper{}}, false},
		{Record{Kind: RecSoftware, Step: StepFunction}, false},
		{saidAt(StepInspection, "sound", "yes"), false},
		{saidAt(StepPacking), true}, {Record{Kind: RecCountersign, For: 1}, true},
		{Record{Kind: RecOverride, Step: StepFunction}, true}, {looked(RecLooksWet, 100000), true},
	} {
		_, still := foldRecords(append(packed[:len(packed):len(packed)], x.r)...).Done[StepPacking]
		require.Equal(t, x.still, still, "%s %s", x.r.Kind, x.r.Step)
	}
}

// A kit is packed as a whole: also when only its recorder was taken out, and only then again.
func TestAKitIsPackedAnew(t *testing.T) {
	c := readyToRelease(t)
	ada := c.actor("ada")
	c.refused("already_done", ada, pack())
	c.version("2.0", true)
	c.refused("order", ada, pack()) // the test comes first
	c.do(ada, testStep(nil, "worn_by", "bench", "signal", "usable", "memory", "yes"))
	require.Equal(t, StepPacking, c.w.NextStep(c.w.Pieces["P18-1"]))
	require.Equal(t, StepRelease, c.w.NextStep(c.w.Pieces["P18-2"]))
	c.refused("steps", ada, ReleaseKit{Kit: "K18"})
	c.do(ada, pack())
	c.refused("already_done", ada, pack())
	c.do(ada, ReleaseKit{Kit: "K18"})

	c = readyToRelease(t)
	c.w.Kits["K18"].Pieces = []string{"P18-2", "gone", "P18-1"}
	cs := &Case{W: c.w, Actor: ada, Now: c.now}
	w, p := cs.work(c.w.Kits["K18"], c.w.Pieces["P18-2"])
	require.Nil(t, p)
	require.False(t, cs.packedAnew(c.w.Kits["K18"], w), "nothing was taken out")
}
