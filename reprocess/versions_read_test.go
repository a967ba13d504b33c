package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// campaign begins a round to a version and gives its id.
func (c *clinic) campaign(name, model, what, target string) string {
	c.t.Helper()
	return c.do(c.actor("boss"), SetCampaign{Campaign: Campaign{Name: name, Model: model, What: what,
		Target: target}}).Events[0].Event.(CampaignSet).ID
}

// upTo brings kit K18 to the end of the last loan on the device.
func (c *clinic) upTo(phone []string) {
	c.t.Helper()
	ada, both := c.actor("ada"), []string{"P18-1", "P18-2"}
	step := func(pieces []string, s StepID, pairs ...string) {
		c.t.Helper()
		c.do(ada, RecordStep{Kit: "K18", Pieces: pieces, Step: s, Answers: answers(pairs...)})
	}
	step(both, StepReceipt, "condition", "whole", "recording", "arrived", "old_cell", "yes")
	step(both, StepCleaning, "clean", "yes", "parts_clean", "yes")
	c.do(ada, WetNow{Kit: "K18", Pieces: both, Container: "B16"})
	c.wait(61e9)
	c.do(ada, Look{Kit: "K18", Pieces: both, Saw: RecLooksWet})
	step(both, StepDrying, "dry", "yes")
	step(both, StepInspection, "sound", "yes")
	step([]string{"P18-1"}, StepBattery, "cell", "T17", "latched", "yes")
	step([]string{"P18-2"}, StepBattery, "charge", "93")
	if phone != nil {
		step([]string{"P18-1"}, StepAssignment, "ended", "yes")
		step([]string{"P18-1"}, StepFunction, "worn_by", "bench", "signal", "usable", "memory", "yes")
		step([]string{"P18-2"}, StepAssignment, phone...)
	}
}

// While a campaign to a version of the app runs, the bench reads the app off at the end of the
// loan: that is asked until the version is the campaign's. (Our own choice.)
func TestTheAppIsReadOffWhileACampaignRuns(t *testing.T) {
	c := newClinic(t)
	c.campaign("app to 7.2", "M11", VersionApp, "7.2")
	c.upTo(nil)
	short := RecordStep{Kit: "K18", Pieces: []string{"P18-2"}, Step: StepAssignment,
		Answers: answers("ended", "yes", "wiped", "yes",
			"app_there", "yes", "lock", "yes", "updates", "yes")}
	c.refused("unanswered", c.actor("ada"), short)
	short.Answers = append(short.Answers, Answer{Ask: "app", Value: "7.1"})
	c.do(c.actor("ada"), short)
	phone := c.w.Pieces["P18-2"]
	require.Equal(t, "7.1", phone.VersionOf(VersionApp))
	require.Equal(t, EffectNote, c.w.Cycles[phone.Cycle].Progress().Done[StepAssignment].worst(),
		"another version than the campaign's is a remark")
	require.Equal(t, 0, Campaigns(c.w)[0].Done)
	require.Equal(t, StepPacking, c.w.NextStep(phone), "it holds nothing back")
}

func TestTheRightVersionEndsTheCampaignForAPiece(t *testing.T) {
	c := newClinic(t)
	c.campaign("app to 7.2", "M11", VersionApp, "7.2")
	c.upTo([]string{"ended", "yes", "wiped", "yes",
		"app_there", "yes", "lock", "yes", "updates", "yes", "app", "7.2"})
	phone := c.w.Pieces["P18-2"]
	require.Equal(t, EffectOK, c.w.Cycles[phone.Cycle].Progress().Done[StepAssignment].worst())
	require.Equal(t, 1, Campaigns(c.w)[0].Done)
	require.Equal(t, StepPacking, c.w.NextStep(c.w.Pieces["P18-1"]),
		"the first version that is known is no change")
	proc := c.w.Procedures[c.w.InForce["M11"]]
	require.NotContains(t, WantedAsks(c.w, c.w.Kits["K18"], phone, proc, StepAssignment),
		appAsk(t), "asked until it is reached")
}

func appAsk(t *testing.T) Ask {
	a, ok := FindAsk("app")
	require.True(t, ok)
	return a
}

// Another app than before may send in another way: the recorder is tested with it once more,
// also when its test was done already; a release before does not stand.
func TestANewAppIsTestedAgain(t *testing.T) {
	c := newClinic(t)
	c.campaign("app to 7.2", "M11", VersionApp, "7.2")
	c.do(c.actor("ada"), SetVersion{Kit: "K18", Piece: "P18-2", What: VersionApp, Version: "7.1"})
	c.upTo([]string{"ended", "yes", "wiped", "yes",
		"app_there", "yes", "lock", "yes", "updates", "yes", "app", "7.2"})
	require.Equal(t, StepFunction, c.w.NextStep(c.w.Pieces["P18-1"]))
	require.Equal(t, StepPacking, c.w.NextStep(c.w.Pieces["P18-2"]))

	c = readyToRelease(t)
	c.do(c.actor("ada"), SetVersion{Kit: "K18", Piece: "P18-2", What: VersionApp, Version: "7.1"})
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	id := c.campaign("app to 7.2", "M11", VersionApp, "7.2")
	c.do(c.actor("ada"), MarkCampaign{Kit: "K18", Piece: "P18-2", Campaign: id})
	require.False(t, CanHandOut(c.w, c.w.Kits["K18"], c.now).Released)
}

// Without a campaign, or for what another one wants, nothing is asked; a spare phone has no
// recorder to test.
func TestWhoIsNotAskedForAVersion(t *testing.T) {
	c := newClinic(t)
	asked := func(piece string) []string {
		p := c.w.Pieces[piece]
		var ids []string
		for _, a := range WantedAsks(c.w, c.w.Kits["K18"], p, c.w.Procedures[c.w.InForce[p.Model]],
			StepAssignment) {
			ids = append(ids, a.ID)
		}
		return ids
	}
	require.Equal(t, []string{"ended", "wiped", "app_there", "lock", "updates"}, asked("P18-2"))
	c.campaign("look at the plug", "M11", "", "")
	c.campaign("recorder to 3", "M10", VersionSoftware, "3")
	require.Equal(t, []string{"ended", "wiped", "app_there", "lock", "updates"}, asked("P18-2"))
	require.Equal(t, []string{"ended", "software"}, asked("P18-1"))
	c.campaign("phone to 14", "M11", VersionSoftware, "14")
	require.Equal(t, []string{"ended", "wiped", "app_there", "lock", "updates",
		"phone_software"}, asked("P18-2"))

	e := c.do(c.actor("boss"), RegisterPiece{Kind: Phone, Piece: NewPiece{Model: "M11", Serial: "P-9"}})
	spare := e.Events[0].Event.(PieceRegistered).ID
	c.do(c.actor("ada"), SetVersion{Piece: spare, What: VersionApp, Version: "7.1"})
	c.do(c.actor("ada"), SetVersion{Piece: spare, What: VersionApp, Version: "7.2"})
	require.Equal(t, "7.2", c.w.Pieces[spare].VersionOf(VersionApp))
}
