package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// corrections are what somebody may say was otherwise: one for each record of each cycle of a
// piece, older ones too. None: an undo, which has nothing to take back.
func (w *walk) corrections(kit, piece string) []reprocess.Command {
	w.Helper()
	world, err := w.Everything(context.Background())
	require.NoError(w, err)
	list := []reprocess.Command{reprocess.Undo{Kit: kit, Of: 1}}
	var cycles []string
	for id, c := range world.Cycles {
		if c.Piece == piece {
			cycles = append(cycles, id)
		}
	}
	slices.Sort(cycles)
	for _, id := range cycles {
		for _, r := range world.Cycles[id].Records {
			x := reprocess.Correct{Kit: kit, Piece: piece, Cycle: id, Of: r.Seq, Reason: "looked again"}
			switch {
			case r.Undone:
				continue
			case r.Kind == reprocess.RecLooksWet:
				x.Dry = true
			case r.Step == reprocess.StepInspection:
				x.Answers = []reprocess.Answer{{Ask: "sound", Value: []string{"worn", "crack"}[w.r.IntN(2)]}}
			case r.Step == reprocess.StepCleaning:
				x.Answers = []reprocess.Answer{{Ask: "clean", Value: "again"}}
			default:
				continue
			}
			list = append(list, x)
		}
	}
	return list
}

// correctedFolder holds a kit of two passes: a record of the older cycle was corrected while the
// kit stood released again, one of the newest after it, which stopped the kit.
func correctedFolder(t *testing.T) (*bench, [2]int64) {
	b := newBench(t)
	kit := b.register("17")
	piece := b.pieceOf(kit)
	var looks []int64
	var cycles []string
	for range 2 {
		for _, s := range b.passOf(kit, piece, "17")[:11] {
			b.clock.pass(s.after)
			e := b.must(b.boss, s.cmd)
			if look, ok := s.cmd.(reprocess.Look); ok && look.Saw == reprocess.RecLooksWet {
				looks = append(looks, e.Seq)
				cycles = append(cycles, e.Events[0].Event.(reprocess.StepRecorded).Cycle)
			}
		}
		if len(looks) == 1 {
			for _, s := range b.passOf(kit, piece, "17")[11:] {
				b.clock.pass(s.after)
				b.must(b.boss, s.cmd)
			}
		}
	}
	fix := func(i int) *reprocess.Entry {
		return b.must(b.boss, reprocess.Correct{Kit: kit, Piece: piece, Of: looks[i],
			Cycle: cycles[i], Dry: true, Reason: "nobody looked"})
	}
	older := fix(0)
	require.Len(t, older.Events, 1)
	require.NotEmpty(t, older.Events[0].Event.(reprocess.RecordCorrected).Failed)
	newest := fix(1)
	require.Len(t, newest.Events, 2)
	w, err := b.KitWorld(t.Context(), kit)
	require.NoError(t, err)
	require.Equal(t, reprocess.Embargoed, reprocess.KitState(w.Kits[kit], w.Pieces))
	return b, [2]int64{older.Seq, newest.Seq}
}

// TestVerifyAfterCorrections: what a correction did to rows that had been written long before is
// folded again and found the same, and an export of it verifies.
func TestVerifyAfterCorrections(t *testing.T) {
	b, _ := correctedFolder(t)
	r := verified(t, b.Dir())
	require.Positive(t, r.Entries)
}

// TestADamagedCorrectionIsNamed: hiding one, in its entry or in the row that it changed, and
// letting the old record count again, each is found at its place.
func TestADamagedCorrectionIsNamed(t *testing.T) {
	b, seqs := correctedFolder(t)
	_, err := b.Checkpoint(t.Context())
	require.NoError(t, err)
	require.NoError(t, b.Close())
	for _, x := range []struct{ want, table, from, to string }{
		{"entry %d: ", "entry", "seen_dry", "looks_wet"},
		{"entry %d: ", "entry", "nobody looked", "nobody lookes"},
		{"table cycle, row ", "cycle", `"undone":true`, `"undone":false`},
		{"table cycle, row ", "cycle", `"supersedes":`, `"supersedez":`},
		{"table cycle, row ", "cycle", `"kind":"seen_dry"`, `"kind":"looks_wet"`},
		{"table piece, row ", "piece", "embargoed", "released"},
	} {
		for _, seq := range seqs {
			dir := t.TempDir()
			require.NoError(t, os.CopyFS(dir, os.DirFS(b.Dir())))
			column, row, want := "doc", "", x.want
			if x.table == "entry" {
				column, row, want = "body", fmt.Sprintf(" AND seq = %d", seq), fmt.Sprintf(x.want, seq)
			}
			tamper(t, dir, func(db *sql.DB) {
				mustExec(t, db, fmt.Sprintf(`UPDATE %s SET %s = CASE typeof(%[2]s) WHEN 'blob'
					THEN cast(replace(cast(%[2]s AS TEXT), ?1, ?2) AS BLOB)
					ELSE replace(%[2]s, ?1, ?2) END
					WHERE instr(cast(%[2]s AS TEXT), ?1) > 0%s`, x.table, column, row), x.from, x.to)
			})
			r, err := Verify(t.Context(), dir, VerifyOptions{})
			require.NoError(t, err)
			require.Contains(t, r.Difference, want, "%s %s", x.table, x.from)
		}
	}
}
