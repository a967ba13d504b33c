package sqlite

import (
	"context"
	"encoding/hex"
	"fmt"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/lookback"
)

// frozen freezes an answer about nothing over what there is now.
func (b *bench) frozen(change ...func(*reprocess.FreezeLookBack)) *reprocess.FrozenLookBack {
	b.Helper()
	ctx := context.Background()
	snap, err := OpenSnapshot(ctx, b.Dir())
	require.NoError(b, err)
	defer snap.Close()
	root, err := snap.Root(ctx)
	require.NoError(b, err)
	f := lookback.Frozen{Size: snap.Size(), Root: root, Keys: []lookback.Key{{Name: "lot", Value: "E 70"}},
		Result: lookback.Result{Cycles: []string{"C9"}, Wearers: 2}, Unknown: 1}
	content, err := f.Bytes()
	require.NoError(b, err)
	sha, err := b.KeepFile(content)
	require.NoError(b, err)
	cmd := reprocess.FreezeLookBack{Note: "too weak", Query: []string{"lot E 70"}, Size: f.Size,
		Root: f.Root, Counts: CountsOf(f), SHA256: sha, Bytes: int64(len(content))}
	for _, c := range change {
		c(&cmd)
	}
	b.must(b.boss, cmd)
	list, err := b.LookBacks(ctx, 1)
	require.NoError(b, err)
	return list[0]
}

// A frozen look-back is folded, found again, rebuilt and checked with its file; the list gives
// the newest first.
func TestAFrozenLookBackIsKept(t *testing.T) {
	b := newBench(t)
	b.register("31")
	first := b.frozen()
	second := b.frozen()
	ctx := context.Background()
	list, err := b.LookBacks(ctx, 5)
	require.NoError(t, err)
	require.Equal(t, []string{second.ID, first.ID}, []string{list[0].ID, list[1].ID})
	require.Equal(t, reprocess.LookBackCounts{Cycles: 1, Wearers: 2, Unknown: 1}, first.Counts)
	content, err := b.KeptFile(first.SHA256)
	require.NoError(t, err)
	f, err := lookback.ReadFrozen(content)
	require.NoError(t, err)
	require.Equal(t, []any{first.Size, first.Root}, []any{f.Size, f.Root})
	r := b.verifyFiles()
	require.Empty(t, r.Difference)
	require.Empty(t, r.Unnamed)
	require.Equal(t, 2, r.Files)
	book, _, err := b.FileBook(ctx)
	require.NoError(t, err)
	require.Empty(t, book.Due(1<<50), "no rule of age removes it")
}

// What is damaged is named: the kept bytes, a missing file, an answer that says something else
// than its entry, and a hash over other entries.
func TestADamagedFrozenLookBackIsFound(t *testing.T) {
	root := func(c *reprocess.FreezeLookBack) { c.Root = hex.EncodeToString(make([]byte, 32)) }
	for name, x := range map[string]struct {
		says   string
		change func(*reprocess.FreezeLookBack)
		spoil  func(t *testing.T, path string)
	}{
		"a byte": {says: "its bytes are not the ones it is named by", spoil: func(t *testing.T, path string) {
			content, err := os.ReadFile(path)
			require.NoError(t, err)
			content[len(content)/2] ^= 1
			require.NoError(t, os.WriteFile(path, content, 0o600))
		}},
		"gone": {says: "names this answer of a look-back and it is not there",
			spoil: func(t *testing.T, path string) { require.NoError(t, os.Remove(path)) }},
		"counts": {says: "the kept answer of its look-back says something else",
			change: func(c *reprocess.FreezeLookBack) { c.Counts.Exposed = 7 }},
		"question": {says: "says something else",
			change: func(c *reprocess.FreezeLookBack) { c.Query = []string{"lot E 71"} }},
		"entries": {says: "was not frozen over the", change: root},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			var more []func(*reprocess.FreezeLookBack)
			if x.change != nil {
				more = append(more, x.change)
			}
			l := b.frozen(more...)
			if x.spoil != nil {
				x.spoil(t, b.filePath(l.SHA256))
			}
			d := b.verifyFiles().Difference
			require.Contains(t, d, x.says)
			if x.change != nil {
				require.Contains(t, d, fmt.Sprintf("entry %d:", l.Seq))
			}
		})
	}
}

// A file that is no answer at all, named by its own hash.
func TestAnAnswerThatIsNone(t *testing.T) {
	b := newBench(t)
	sha, err := b.KeepFile([]byte("nothing of the kind"))
	require.NoError(t, err)
	b.frozen(func(c *reprocess.FreezeLookBack) { c.SHA256 = sha })
	require.Contains(t, b.verifyFiles().Difference, "cannot be read: this is not a frozen look-back")
}

// One signature, one transaction: the entries of the kits follow the first without a gap, what
// was refused among them; a repeated form adds nothing; a refused first one keeps nothing else.
func TestEverythingNamedIsOneTransaction(t *testing.T) {
	b := newBench(t)
	var kits []string
	for _, number := range []string{"31", "32"} {
		kits = append(kits, b.register(number))
	}
	l := b.frozen()
	ctx := context.Background()
	head := Request{Actor: b.boss, Key: "form", Cmd: reprocess.ActOnLookBack{LookBack: l.ID,
		Reason: "too weak", Stop: 2, Kits: 2}}
	var rest []Request
	for i, id := range kits {
		k, err := Get[reprocess.Kit](ctx, b.Store, reprocess.TableKit, id)
		require.NoError(t, err)
		cycle := map[bool]string{true: "C0"}[i == 0] // the first is not as it was named
		rest = append(rest, Request{Actor: b.boss, Key: "form-" + id, Cmd: reprocess.ActOnKit{
			LookBack: l.ID, Kit: id, Reason: "too weak", Pieces: []reprocess.NamedPiece{{Kit: id,
				Piece: k.Pieces[0], Do: reprocess.DoStop, Cycle: cycle}}}})
	}
	e, answers, err := b.DoAll(ctx, head, rest)
	require.NoError(t, err)
	require.Equal(t, []int64{e.Seq + 1, e.Seq + 2}, []int64{answers[0].Seq, answers[1].Seq})
	require.Contains(t, answers[0].Problem.Text, "began another cycle since")
	require.Contains(t, answers[1].Problem.Text, "Kit 32 was left as it is: none of it is in use.")
	size, err := b.Size(ctx)
	require.NoError(t, err)
	again, _, err := b.DoAll(ctx, head, rest)
	require.NoError(t, err)
	require.Equal(t, e.Seq, again.Seq)
	after, err := b.Size(ctx)
	require.NoError(t, err)
	require.Equal(t, size, after)

	head.Key, head.Cmd = "other", reprocess.ActOnLookBack{LookBack: "Q0", Reason: "weak", Stop: 1, Kits: 1}
	_, _, err = b.DoAll(ctx, head, rest[:1])
	require.Equal(t, "unknown", reprocess.AsProblem(err).Rule)
	last, err := b.Size(ctx)
	require.NoError(t, err)
	require.LessOrEqual(t, last, after+1, "at most the refusal itself")
	require.Empty(t, b.verifyFiles().Difference)
}
