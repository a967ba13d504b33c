package sqlite

import (
	"context"
	"database/sql"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// week is a bench with a day's book, a plan, a kept kit and findings, open and closed.
func week(t testing.TB) (b *bench, kit string) {
	b = newBench(t)
	kit = b.register("17")
	piece := b.pieceOf(kit)
	for _, s := range b.passOf(kit, piece, "17")[:11] {
		b.clock.pass(s.after)
		b.must(b.boss, s.cmd)
	}
	today := b.Now().Today()
	model := "M1"
	w, err := b.SetUp(context.Background())
	require.NoError(t, err)
	for _, m := range reprocess.RecorderModels(w) {
		model = m.ID
	}
	token, err := b.WearerToken(context.Background(), "A-1044")
	require.NoError(t, err)
	for _, cmd := range []reprocess.Command{
		reprocess.TickDay{Day: today, Tick: "Bench wiped"},
		reprocess.NoteDay{Day: today, Note: "the lamp flickers"},
		reprocess.SetWant{Day: today.AddDays(1), Model: model, Count: 2},
		reprocess.KeepKit{Kit: kit, Token: token, Day: today.AddDays(1)},
		reprocess.OpenFinding{Text: "late one", Owner: "S1", Due: today.AddDays(3), Kit: kit},
		reprocess.OpenFinding{Text: "early one", Owner: "S1", Due: today},
		reprocess.OpenFinding{Text: "done one", Owner: "S1", Due: today, Kit: kit},
	} {
		b.must(b.boss, cmd)
	}
	list, err := b.Findings(context.Background(), kit)
	require.NoError(t, err)
	b.must(b.boss, reprocess.CloseFinding{Finding: list[0].ID, Done: "done", Evidence: "entry 1"})
	return b, kit
}

// TestTheWeekIsReadWhole: the morning page's world answers every rule as the whole world does.
func TestTheWeekIsReadWhole(t *testing.T) {
	b, kit := week(t)
	ctx, now := context.Background(), b.Now()
	w, err := b.Week(ctx, now.Today())
	require.NoError(t, err)
	whole, err := b.Everything(ctx)
	require.NoError(t, err)
	require.NotEmpty(t, reprocess.OutlookOn(whole, now.Today().AddDays(1), now))
	require.Equal(t, reprocess.OutlookOn(whole, now.Today().AddDays(1), now),
		reprocess.OutlookOn(w, now.Today().AddDays(1), now))
	require.Equal(t, reprocess.EndingToday(whole, now), reprocess.EndingToday(w, now))
	require.Equal(t, reprocess.PhonesToCharge(whole, now), reprocess.PhonesToCharge(w, now))
	require.Equal(t, reprocess.SupplyWarnings(whole, now), reprocess.SupplyWarnings(w, now))
	require.Equal(t, reprocess.ChecksDue(whole, now, 400), reprocess.ChecksDue(w, now, 400))
	require.Equal(t, whole.Daybooks, w.Daybooks)
	require.Equal(t, whole.Kits[kit], w.Kits[kit])
	require.Len(t, w.Findings, 2, "the open ones")
	later, err := b.Week(ctx, now.Today().AddDays(2))
	require.NoError(t, err)
	require.Empty(t, later.Wants)
	require.Empty(t, later.Daybooks)
	verified(t, b.Dir())
}

func TestFindingsByDayAndKit(t *testing.T) {
	b, kit := week(t)
	ctx := context.Background()
	texts := func(list []*reprocess.Finding, err error) (all []string) {
		require.NoError(t, err)
		for _, f := range list {
			all = append(all, f.Text)
		}
		return all
	}
	open, err := b.Findings(ctx, "")
	require.Equal(t, []string{"early one", "late one"}, texts(open, err))
	ofKit, err := b.Findings(ctx, kit)
	require.Equal(t, []string{"late one", "done one"}, texts(ofKit, err), "open ones first")
	closed, err := b.ClosedFindings(ctx, 5)
	require.Equal(t, []string{"done one"}, texts(closed, err))
}

// TestAKeepIsFoundByItsReference: capital and small letters are the same; a link that was
// forgotten finds nothing, and compares with nothing.
func TestAKeepIsFoundByItsReference(t *testing.T) {
	b, kit := week(t)
	ctx := context.Background()
	kits, err := b.KeptFor(ctx, "a-1044")
	require.NoError(t, err)
	require.Len(t, kits, 1)
	require.Equal(t, kit, kits[0].ID)
	token := kits[0].Keep.Token
	for reference, want := range map[string]bool{"A-1044": true, " a-1044 ": true, "A-1045": false} {
		same, err := b.SameReference(ctx, token, reference)
		require.NoError(t, err)
		require.Equal(t, want, same, reference)
	}
	require.NoError(t, b.DropWearer(ctx, token))
	same, err := b.SameReference(ctx, token, "")
	require.NoError(t, err)
	require.False(t, same)
	kits, err = b.KeptFor(ctx, "A-1044")
	require.NoError(t, err)
	require.Empty(t, kits)
	_, err = b.KeptFor(ctx, "Mrs Smith")
	require.Equal(t, "reference", reprocess.AsProblem(err).Rule)
}

// TestLapsedKeepsStandForNobody: from the millisecond after its end, not before.
func TestLapsedKeepsStandForNobody(t *testing.T) {
	b, kit := week(t)
	ctx := context.Background()
	k, err := Get[reprocess.Kit](ctx, b.Store, reprocess.TableKit, kit)
	require.NoError(t, err)
	require.NoError(t, b.DropLapsedKeeps(ctx, k.Keep.Until))
	_, err = b.WearerRef(ctx, k.Keep.Token)
	require.NoError(t, err)
	for range 2 { // once more changes nothing
		require.NoError(t, b.DropLapsedKeeps(ctx, k.Keep.Until+1))
		_, err = b.WearerRef(ctx, k.Keep.Token)
		require.Equal(t, "no_link", reprocess.AsProblem(err).Rule)
	}
	verified(t, b.Dir())
}

// TestTheWeeksTablesAreVerified: a row that no entry gives is found, in each of the tables.
func TestTheWeeksTablesAreVerified(t *testing.T) {
	for _, query := range []string{
		`UPDATE daybook SET doc = replace(doc, 'lamp', 'bulb')`,
		`UPDATE want SET doc = replace(doc, ':2', ':1')`, `DELETE FROM want`,
		`UPDATE finding SET open = 0`, `DELETE FROM finding WHERE open = 0`,
		`UPDATE kit SET doc = replace(doc, '"keep"', '"keip"')`,
	} {
		b, _ := week(t)
		dir := b.Dir()
		require.NoError(t, b.Close())
		tamper(t, dir, func(db *sql.DB) { mustExec(t, db, query) })
		r, err := Verify(context.Background(), dir, VerifyOptions{})
		require.NoError(t, err)
		require.NotEmpty(t, r.Difference, query)
	}
}

// TestTheNewestBackupIsKnown by the note it leaves, which is in no copy.
func TestTheNewestBackupIsKnown(t *testing.T) {
	b, _ := week(t)
	at, err := b.LastBackup()
	require.NoError(t, err)
	require.Zero(t, at)
	out := t.TempDir() + "/copy"
	_, err = Backup(context.Background(), b.Dir(), out, false)
	require.NoError(t, err)
	at, err = b.LastBackup()
	require.NoError(t, err)
	require.NotZero(t, at)
	require.NoFileExists(t, out+"/"+backupNote)
	verified(t, b.Dir())
	_, err = Backup(context.Background(), b.Dir(), out, false) // there is one already
	require.Error(t, err)
	again, err := b.LastBackup()
	require.NoError(t, err)
	require.Equal(t, at, again, "a backup that failed leaves no note")
}

// BenchmarkWeek is the read of the morning page of 60 kits that all wait.
func BenchmarkWeek(b *testing.B) {
	s := newBench(b)
	s.pool(60)
	s.bulk(s.history(60, 5))
	today := s.Now().Today()
	b.ResetTimer()
	for range b.N {
		w, err := s.Week(context.Background(), today)
		if err != nil || len(w.Kits) != 60 {
			b.Fatal(err, len(w.Kits))
		}
	}
}
