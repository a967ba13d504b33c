package sqlite

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/invent"
	"handback/reprocess/ledger"
)

// historyFile holds the entries that the guard of the fold folds, one a line, as they were
// written: invented days and, behind them, one of every event that no invented day holds.
const historyFile = "testdata/history.jsonl.gz"

var newHistory = flag.Bool("new-history", false, "make "+historyFile+" anew")

func historyBodies(t testing.TB) [][]byte {
	t.Helper()
	data, err := os.ReadFile(historyFile)
	require.NoError(t, err)
	in, err := gzip.NewReader(bytes.NewReader(data))
	require.NoError(t, err)
	lines := bufio.NewScanner(in)
	lines.Buffer(nil, 1<<20)
	var bodies [][]byte
	for lines.Scan() {
		bodies = append(bodies, bytes.Clone(lines.Bytes()))
	}
	require.NoError(t, lines.Err())
	require.Greater(t, len(bodies), 300)
	return bodies
}

// writeHistory makes the file from invented days; where there is one, its entries stay and only
// kinds of events that it lacks are added.
func writeHistory(t *testing.T) {
	t.Helper()
	var bodies [][]byte
	have := map[string]int{}
	if exists(historyFile) {
		bodies = historyBodies(t)
		have = eventKinds(t, bodies)
	} else {
		bodies = inventedBodies(t)
	}
	late := slices.IndexFunc(bodies, func(body []byte) bool {
		return bytes.Contains(body, []byte(`"`+lateCycle+`"`))
	})
	if late < 0 {
		late = len(bodies)
	}
	fold := newPortions(0, nil) // few rows, none is written
	require.NoError(t, foldBodies(t.Context(), func(string, ...any) error { return nil }, fold,
		bodies[:late]))
	w := fold.world // as the invented days left it
	last, err := readEntry(bodies[len(bodies)-1])
	require.NoError(t, err)
	for _, event := range lateEvents(t, w, int64(late)) {
		if have[event.EventName()] > 0 {
			continue
		}
		last = &reprocess.Entry{Seq: last.Seq + 1, At: last.At.Add(time.Minute),
			Site: "Main building", Act: reprocess.ActMove, Result: reprocess.ResultDone,
			By: reprocess.FirstSupervisorID, Name: "Ada Quill",
			Events: []reprocess.Box{{Event: event}}}
		body, err := ledger.Canonical(last)
		require.NoError(t, err)
		bodies = append(bodies, body)
	}
	keepHistory(t, bodies)
	t.Logf("%d entries: put %s into foldGolden", len(bodies), foldedHash(t, historyBodies(t)))
}

// eventKinds counts the events of entries by name.
func eventKinds(t testing.TB, bodies [][]byte) map[string]int {
	t.Helper()
	kinds := map[string]int{}
	for _, body := range bodies {
		e, err := readEntry(body)
		require.NoError(t, err)
		for _, box := range e.Events {
			kinds[box.Event.EventName()]++
		}
	}
	return kinds
}

func keepHistory(t *testing.T, bodies [][]byte) {
	t.Helper()
	var data bytes.Buffer
	out, err := gzip.NewWriterLevel(&data, gzip.BestCompression)
	require.NoError(t, err)
	_, err = out.Write(append(bytes.Join(bodies, []byte("\n")), '\n'))
	require.NoError(t, err)
	require.NoError(t, out.Close())
	require.NoError(t, os.MkdirAll(filepath.Dir(historyFile), 0o755))
	require.NoError(t, os.WriteFile(historyFile, data.Bytes(), 0o644))
}

// inventedBodies lets a store write the entries of 20 invented days.
func inventedBodies(t testing.TB) (bodies [][]byte) {
	t.Helper()
	b := &bench{TB: t, clock: newClock()}
	b.Store = open(t, t.TempDir(), b.clock)
	plan, err := invent.History(invent.Options{Now: b.clock.now().UTC, Seed: 20, Days: 20})
	require.NoError(t, err)
	var all []Request
	for _, a := range plan.Acts {
		actor, now := reprocess.Console(), a.Now
		if a.Person != nil {
			actor = reprocess.Actor{Person: a.Person, Signed: a.Signed}
		}
		all = append(all, Request{Cmd: a.Cmd, Actor: actor, Now: &now})
	}
	ctx := context.Background()
	_, err = b.DoMany(ctx, all)
	require.NoError(t, err)
	size, err := b.Size(ctx)
	require.NoError(t, err)
	for body, err := range b.Bodies(ctx, 1, size) {
		require.NoError(t, err)
		bodies = append(bodies, bytes.Clone(body))
	}
	return bodies
}

// lateCycle is the cycle that the first of the late events opens.
const lateCycle = "CX"

// lateEvents are what no invented day holds, each on something that it can change. They are
// not decided: folding must be right for whatever an entry says.
func lateEvents(t *testing.T, w *reprocess.World, size int64) []reprocess.Event {
	t.Helper()
	lot, container := slices.Min(keys(w.Lots)), slices.Min(keys(w.Containers))
	piece, held := pieceIn(t, w, reprocess.Registered), pieceIn(t, w, reprocess.Quarantined)
	busy, out := w.Kits[piece.Kit], w.Kits[pieceIn(t, w, reprocess.Issued).Kit]
	ready := w.Kits[pieceIn(t, w, reprocess.Released).Kit]
	broken := w.Kits[pieceIn(t, w, reprocess.Released, ready.Pieces...).Kit]
	hash := strings.Repeat("0a", 32)
	receipt := reprocess.Record{Kind: reprocess.RecAnswer, Step: reprocess.StepReceipt,
		Answers: []reprocess.Answer{{Ask: "condition", Value: "whole"}}}
	return []reprocess.Event{
		reprocess.CycleOpened{Cycle: lateCycle, Piece: piece.ID, Kit: busy.ID, Number: 1,
			Procedure: w.InForce[piece.Model]},
		reprocess.StepRecorded{Cycle: lateCycle, Piece: piece.ID, Record: receipt},
		reprocess.Undone{Of: size + 2, Kit: busy.ID, Cycles: []string{lateCycle}, // the receipt
			Recording: &reprocess.Recording{Status: reprocess.RecordingOnIt, By: "S1"}},
		reprocess.RecordCorrected{Of: size + 2, Cycle: lateCycle, Piece: piece.ID, Kit: busy.ID,
			Record: receipt, Reason: "the other kit"},
		reprocess.SecretSet{Person: reprocess.FirstSupervisorID, MAC: hash},
		reprocess.PhoneEnrolled{Phone: "PH1", Name: "Bench 1"},
		reprocess.PhoneEnrolled{Phone: "PH2", Name: "Bench 2"},
		reprocess.PhoneRevoked{Phone: "PH2", Reason: "lost"},
		reprocess.TurnedAway{From: reprocess.HourOf(1_790_000_000_000),
			Counts: []reprocess.Counted{{Of: "secret", N: 3}}},
		reprocess.PassRead{Person: reprocess.FirstSupervisorID, From: reprocess.HourOf(1_790_000_000_000),
			Pages: []reprocess.Counted{{Of: "trail", N: 2}}},
		reprocess.PassUsed{Person: reprocess.FirstSupervisorID},
		reprocess.SampleDrawn{ID: "A1", From: "2026-11-01", To: "2026-11-02", Rate: "5%", Confidence: "95%",
			Population: 1, Frame: hash, Seed: hash, ReviewAll: true, Cycles: []string{lateCycle}},
		reprocess.SampleRecordRead{Sample: "A1", Cycle: lateCycle, Found: reprocess.FoundBad, Remark: "no lot"},
		reprocess.LookBackFrozen{ID: "Q1", Note: "too weak", Query: []string{"lot E70"}, Size: 9,
			Root: hash, SHA256: hash, Bytes: 9},
		reprocess.LookBackActed{LookBack: "Q1", Reason: "too weak", Restart: 1, Kits: 1},
		reprocess.CycleRestarted{Kit: busy.ID, Piece: piece.ID, Cycle: lateCycle,
			Reason: "too weak", LookBack: size},
		reprocess.LotStopped{Lot: lot, Reason: "cloudy"},
		reprocess.LotLifted{Lot: lot, Reason: "was the light"},
		reprocess.LotStopped{Lot: lot, Reason: "cloudy after all"},
		reprocess.LotEnded{Lot: lot},
		reprocess.LotResumed{Lot: lot},
		reprocess.LotEnded{Lot: lot},
		reprocess.StrengthRead{Container: container, Reading: reprocess.StrengthReading{
			Reading: "72%v/v", Temperature: "20°C", Glass: "soda-lime"}},
		reprocess.ContainerClosed{Container: container, Why: "thrown away"},
		reprocess.ContainerReopened{Container: container},
		reprocess.ContainerClosed{Container: container, Why: "empty"},
		reprocess.LabelIssued{Label: reprocess.Label{Code: "BLANK1", Kind: reprocess.CodeBlank,
			Number: "1"}},
		reprocess.LabelBound{Code: "BLANK1", Kind: reprocess.CodePiece, Target: piece.ID},
		reprocess.LabelWithdrawn{Code: slices.Min(keys(w.Labels)), Reason: "worn off"},
		reprocess.ForeignItem{Note: "a bag", Place: "desk"},
		reprocess.WarningNoted{Ref: "letter", Serials: []string{"1200-1260"}, Lots: []string{"A1"}},
		reprocess.ParcelOpened{Kit: busy.ID},
		reprocess.PairChecked{Kit: busy.ID, Recorder: piece.ID, Phone: busy.Pieces[len(busy.Pieces)-1],
			RecorderCycle: piece.Cycle},
		reprocess.WaitingSet{Kit: busy.ID, Reason: "part", Who: "Ada", Next: "2026-12-01",
			Part: "strap"},
		reprocess.WaitingSet{Kit: busy.ID, Reason: "charging"},
		reprocess.WaitingEnded{Kit: busy.ID, Reason: "charging"},
		reprocess.HoldEnded{Piece: held.ID, Hold: held.Holds[0].Seq, Reason: "was dust"},
		reprocess.LoanExtended{Loan: out.Loan, Days: 21, Due: "2026-12-20"},
		reprocess.RepairSent{Piece: held.ID, Repair: reprocess.Repair{To: "a repairer",
			Declaration: "still_contaminated", Left: "blood", Reason: "clip", Sent: "2026-11-20"}},
		reprocess.RepairExpected{Piece: held.ID, Expected: "2026-12-02"},
		reprocess.RepairEnded{Piece: held.ID, Back: "2026-12-01", Outcome: "repaired", Cost: 1250,
			Currency: "EUR"},
		reprocess.LossDeclared{Kit: busy.ID, Pieces: []string{piece.ID}, Known: 1, Data: "yes"},
		reprocess.LossTold{Kit: busy.ID, Who: "Data protection", At: 2},
		reprocess.WornTold{Loan: out.Loan, Kit: out.ID, Worn: "2"},
		reprocess.WardReturned{Loan: out.Loan, Under: out.Loan, Kit: out.ID,
			Flags: []string{"respiratory"}},
		reprocess.HandOutUndone{Loan: out.Loan, Kit: out.ID, Reason: "never left"},
		reprocess.Rechecked{Kit: ready.ID, Until: ready.Since + 1},
		reprocess.ReleaseBroken{Kit: broken.ID, Why: "wet"},
		reprocess.KitComposed{Kit: busy.ID, Pieces: []string{piece.ID,
			ready.Pieces[len(ready.Pieces)-1]}},
		reprocess.WearerViewed{Kit: out.ID, Loan: out.Loan},
		reprocess.WearerErased{Kit: out.ID, Loan: out.Loan, Token: hash[:32], Reason: "asked for"},
		reprocess.LegalHoldSet{ID: "H1", Kit: busy.ID, Reason: "a claim"},
		reprocess.LegalHoldSet{ID: "H2", From: "2026-11-01", To: "2026-11-30", Reason: "a claim"},
		reprocess.LegalHoldLifted{Hold: "H2", Reason: "settled"},
		reprocess.Exported{Format: "csv", Table: "entries", Scope: "all", Size: size},
		reprocess.RollCalled{Kits: int64(len(w.Kits)), Root: hash},
		reprocess.PictureAdded{Kit: busy.ID, Piece: piece.ID, SHA256: hash, Bytes: 9,
			About: "a crack"},
		reprocess.FilesRemoved{Files: []string{hash}, Months: 120},
		reprocess.CheckRecorded{Kit: busy.ID, Piece: piece.ID, Words: "charger: safety",
			Done: reprocess.CheckDone{Check: "K1-1", On: "2026-11-02", Tester: "Workshop"}},
		reprocess.VersionSet{Kit: busy.ID, Piece: piece.ID, What: reprocess.VersionSoftware,
			Version: "2.1", Changed: true},
		reprocess.CampaignSet{Campaign: reprocess.Campaign{ID: "G1", Name: "to 2.1",
			Model: piece.Model, What: reprocess.VersionSoftware, Target: "2.1"}},
		reprocess.CampaignMarked{Kit: busy.ID, Piece: piece.ID, Campaign: "G1", Name: "to 2.1"},
		reprocess.DayTicked{Day: "2026-11-24", Tick: "Bench wiped"},
		reprocess.DayNoted{Day: "2026-11-24", Note: "the lamp flickers"},
		reprocess.HandedOver{Day: "2026-11-24", From: "S1", To: "S2"},
		reprocess.LoanCalled{Kit: out.ID, Loan: out.Loan, Result: reprocess.CallWillBring,
			On: "2026-12-21"},
		reprocess.KitKept{Kit: ready.ID, Token: hash, Day: "2026-12-22", Until: ready.Since + 2},
		reprocess.KeepEnded{Kit: busy.ID},
		reprocess.WantSet{Day: "2026-12-22", Model: piece.Model, Count: 4},
		reprocess.FindingOpened{Finding: reprocess.Finding{ID: "F1", Text: "lamp flickers",
			Owner: "S1", Due: "2026-12-01", Kit: busy.ID, By: "S1"}},
		reprocess.FindingMoved{Finding: "F1", Owner: "S2", Due: "2026-12-02", Reason: "leave"},
		reprocess.FindingClosed{Finding: "F1", Done: "new lamp", Evidence: "entry 1"},
		reprocess.DocumentAdded{ID: "Q1", Kind: reprocess.DocInstructions, Title: "Instructions",
			About:        []reprocess.Subject{{Kind: reprocess.OnModel, ID: piece.Model}},
			DocumentFile: reprocess.DocumentFile{Edition: "4", Dated: "2026-10-01", SHA256: hash, Bytes: 9}},
		reprocess.DocumentRenewed{Document: "Q1", No: 2, DocumentFile: reprocess.DocumentFile{
			Edition: "5", Dated: "2026-11-01", SHA256: strings.Repeat("0b", 32), Bytes: 9}},
		reprocess.DocumentAttached{Document: "Q1", About: reprocess.Subject{Kind: reprocess.OnModel,
			ID: ready.Pieces[0]}},
		reprocess.DocumentWithdrawn{Document: "Q1", Reason: "never in force"},
		reprocess.HeightLearnt{Model: piece.Model, Piece: piece.ID, UV: 1000, SHA256: hash,
			Reason: "new phantom"},
	}
}

// pieceIn finds the first piece in a state but for some.
func pieceIn(t *testing.T, w *reprocess.World, s reprocess.State, not ...string) *reprocess.Piece {
	t.Helper()
	ids := keys(w.Pieces)
	slices.Sort(ids)
	for _, id := range ids {
		if w.Pieces[id].State == s && !slices.Contains(not, id) {
			return w.Pieces[id]
		}
	}
	require.Fail(t, "no piece is "+s.String())
	return nil
}
