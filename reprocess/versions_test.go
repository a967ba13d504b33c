package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func (c *clinic) version(version string, updated bool) {
	c.t.Helper()
	c.do(c.actor("ada"), SetVersion{Kit: "K18", Piece: "P18-1", What: VersionSoftware,
		Version: version, Updated: updated})
}

// New software in a recorder asks for its function test, and the pack, again; reading a version
// off for the first time does not. (MDR 2017/745 Art. 2(39): reprocessing includes testing
// of the function; that software changes it is our own caution.)
func TestNewSoftwareIsTestedAgain(t *testing.T) {
	c := readyToRelease(t)
	c.version("2.0", false)
	require.Nil(t, GateOpen(c.w, c.w.Kits["K18"], c.actor("ada"), c.now), "read off, not changed")
	c.refused("already_done", c.actor("ada"), SetVersion{Kit: "K18", Piece: "P18-1",
		What: VersionSoftware, Version: "2.0"})
	c.version("2.1", false)
	require.Equal(t, StepFunction, c.w.NextStep(c.w.Pieces["P18-1"]))
	require.Equal(t, AwaitingRelease, c.w.Pieces["P18-2"].State, "the phone is as it was")
	c.refused("steps", c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.do(c.actor("ada"), RecordStep{Kit: "K18", Pieces: []string{"P18-1"}, Step: StepFunction,
		Answers: answers("worn_by", "bench", "signal", "usable", "memory", "yes")})
	require.Equal(t, StepPacking, c.w.NextStep(c.w.Pieces["P18-1"]))
}

// The first version that is known can still be one that was put on just now; new software of
// the phone itself changes nothing; a released kit is not released any more.
func TestWhatAChangeOfVersionEnds(t *testing.T) {
	c := readyToRelease(t)
	c.version("2.0", true)
	require.Equal(t, StepFunction, c.w.NextStep(c.w.Pieces["P18-1"]))

	c = readyToRelease(t)
	c.do(c.actor("ada"), SetVersion{Kit: "K18", Piece: "P18-2", What: VersionSoftware, Version: "9", Updated: true})
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.version("2.0", false)
	require.True(t, CanHandOut(c.w, c.w.Kits["K18"], c.now).Released)
	c.version("2.1", false)
	require.False(t, CanHandOut(c.w, c.w.Kits["K18"], c.now).Released)
	require.Equal(t, "2.1", c.w.Pieces["P18-1"].VersionOf(VersionSoftware))
	require.Len(t, c.w.Pieces["P18-1"].Versions, 1)
}

func TestWhatAVersionCannotBe(t *testing.T) {
	c := newClinic(t)
	ada := c.actor("ada")
	c.refused("what", ada, SetVersion{Kit: "K18", Piece: "P18-1", What: "colour", Version: "1"})
	c.refused("empty", ada, SetVersion{Kit: "K18", Piece: "P18-1", What: VersionSoftware})
	c.refused("other_kit", ada, SetVersion{Piece: "P18-1", What: VersionSoftware, Version: "1"})
	c.refused("role", c.actor("dan"), SetVersion{Kit: "K18", Piece: "P18-1", What: VersionSoftware,
		Version: "1"})
}

// A campaign counts the pieces in use of its model; a piece that has the version needs nothing.
func TestACampaignCounts(t *testing.T) {
	c := newClinic(t)
	boss, ada := c.actor("boss"), c.actor("ada")
	for _, n := range []string{"21", "22", "23"} {
		c.do(boss, RegisterKit{Number: n, Recorder: NewPiece{Model: "M10", Serial: "R-" + n}})
	}
	id := c.do(boss, SetCampaign{Campaign: Campaign{Name: "to 2.1", Model: "M10",
		What: VersionSoftware, Target: "2.1"}}).Events[0].Event.(CampaignSet).ID
	count := func(done, of int) CampaignStanding {
		t.Helper()
		all := Campaigns(c.w)
		require.Len(t, all, 1)
		require.Equal(t, [2]int{done, of}, [2]int{all[0].Done, all[0].Of})
		require.Len(t, all[0].Open, of-done)
		return all[0]
	}
	count(0, 4)
	c.version("2.1", false)
	open := count(1, 4).Open
	mark := func(p *Piece) MarkCampaign { return MarkCampaign{Kit: p.Kit, Piece: p.ID, Campaign: id} }
	c.do(ada, mark(open[0]))
	require.Equal(t, "2.1", c.w.Pieces[open[0].ID].VersionOf(VersionSoftware))
	count(2, 4)
	c.refused("already_done", ada, mark(open[0]))
	c.w.Pieces[open[1].ID].State = Issued
	c.refused("not_here", ada, mark(open[1]))
	c.w.Pieces[open[1].ID].State = Retired
	count(2, 3)
	c.refused("other_model", ada, MarkCampaign{Kit: "K18", Piece: "P18-2", Campaign: id})
	c.refused("unknown", ada, MarkCampaign{Kit: "K18", Piece: "P18-1", Campaign: "G0"})
	require.Empty(t, c.w.CampaignsOf(c.w.Pieces["P18-1"]))
	require.Len(t, c.w.CampaignsOf(c.w.Pieces[open[2].ID]), 1)
	c.do(boss, SetSettings{Settings{Zone: "UTC"}})
	require.Len(t, Campaigns(c.w), 1, "settings leave campaigns")
	c.do(boss, SetCampaign{Campaign: Campaign{ID: id}, End: true})
	require.Empty(t, Campaigns(c.w))
	c.refused("campaign_ended", ada, mark(open[2]))
	c.refused("already_done", boss, SetCampaign{Campaign: Campaign{ID: id}, End: true})
}

// A campaign of a check is done by marking, and asks for the function test of nothing.
func TestACampaignOfACheck(t *testing.T) {
	c := readyToRelease(t)
	id := c.do(c.actor("boss"), SetCampaign{Campaign: Campaign{Name: "look at the clip",
		Model: "M10"}}).Events[0].Event.(CampaignSet).ID
	c.do(c.actor("ada"), MarkCampaign{Kit: "K18", Piece: "P18-1", Campaign: id})
	require.Equal(t, 1, Campaigns(c.w)[0].Done)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
}

func TestWhatACampaignCannotBe(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	for rule, v := range map[string]Campaign{"empty": {Model: "M10"},
		"unknown": {Name: "x", Model: "M0"}, "what": {Name: "x", Model: "M10", Target: "2"}} {
		c.refused(rule, boss, SetCampaign{Campaign: v})
	}
	c.refused("what", boss, SetCampaign{Campaign: Campaign{Name: "x", Model: "M10", What: VersionApp}})
	e := c.do(boss, SetCampaign{Campaign: Campaign{Name: "x", Model: "M10"}})
	c.refused("name_taken", boss, SetCampaign{Campaign: Campaign{Name: "X", Model: "M11"}})
	c.refused("campaign", boss, SetCampaign{Campaign: e.Events[0].Event.(CampaignSet).Campaign})
	c.refused("unknown", boss, SetCampaign{Campaign: Campaign{ID: "G0"}, End: true})
	c.refused("role", c.actor("ada"), SetCampaign{Campaign: Campaign{Name: "y", Model: "M10"}})
}
