package ledger

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

func someHeads(n int) (heads []Head) {
	for i := range n {
		heads = append(heads, Head{Kit: fmt.Sprintf("K-%04d", i), Seq: int64(i + 1),
			Leaf: Hash{byte(i), 1}})
	}
	return heads
}

// The leaf of a roll call and the root over two, worked by the definition of RFC 6962 on bytes
// written out by hand.
func TestRollRootByHand(t *testing.T) {
	a := `{"kit":"A","kit_seq":2,"leaf":"` + EmptyRoot.String() + `"}`
	b := `{"kit":"B","kit_seq":1,"leaf":"` + EmptyRoot.String() + `"}`
	root, err := RollRoot([]Head{{"B", 1, EmptyRoot}, {"A", 2, EmptyRoot}})
	require.NoError(t, err)
	require.Equal(t, plainRoot([][]byte{[]byte(a), []byte(b)}), root)
	root, err = RollRoot(nil)
	require.NoError(t, err)
	require.Equal(t, EmptyRoot, root)
}

func TestRollProofAtEverySize(t *testing.T) {
	for n := 1; n <= 40; n++ {
		heads := someHeads(n)
		rand.New(rand.NewPCG(1, uint64(n))).Shuffle(n, func(i, k int) {
			heads[i], heads[k] = heads[k],
				heads[i]
		})
		root, err := RollRoot(heads)
		require.NoError(t, err)
		for _, h := range heads {
			p, err := ProveHead(heads, h.Kit)
			require.NoError(t, err)
			require.Equal(t, h, p.Head)
			require.NoError(t, p.Check(root))
			for what, breakIt := range map[string]func(*RollProof){
				"an entry less":  func(p *RollProof) { p.Seq-- },
				"an entry more":  func(p *RollProof) { p.Seq++ },
				"another leaf":   func(p *RollProof) { p.Leaf[31] ^= 1 },
				"another device": func(p *RollProof) { p.Kit += "x" },
				"another place":  func(p *RollProof) { p.Index++ },
				"place below":    func(p *RollProof) { p.Index = -1 },
				"no size":        func(p *RollProof) { p.Size = 0 },
				"bad name":       func(p *RollProof) { p.Kit = `"` },
			} {
				bad := p
				breakIt(&bad)
				require.Error(t, bad.Check(root), what)
			}
			breakEach(p.Path, func(what string, path []Hash) {
				bad := p
				bad.Path = path
				require.Error(t, bad.Check(root), what)
			})
		}
	}
}

func TestRollRefuses(t *testing.T) {
	for what, heads := range map[string][]Head{
		"twice": {{"A", 1, Hash{}}, {"A", 2, Hash{}}}, "no name": {{"", 1, Hash{}}},
		"quote": {{`A"`, 1, Hash{}}}, "backslash": {{`A\`, 1, Hash{}}}, "none": {{"A", 0, Hash{}}},
		"control": {{"A\n", 1, Hash{}}}, "not UTF-8": {{"A\xff", 1, Hash{}}},
	} {
		_, err := RollRoot(heads)
		require.Error(t, err, what)
		_, err = ProveHead(heads, "A")
		require.Error(t, err, what)
	}
	_, err := ProveHead(someHeads(3), "K-9999")
	require.ErrorContains(t, err, "not in the roll call")
}

func TestRollFollowsTheChains(t *testing.T) {
	h1, h2, h3 := Hash{1}, Hash{2}, Hash{3}
	first := Envelope{Seq: 1, Kit: "A", KitSeq: 1}
	second := Envelope{Seq: 2, Kit: "A", KitSeq: 2, KitPrev: &h1}
	third := Envelope{Seq: 3, Kit: "A", KitSeq: 3, KitPrev: &h2}
	wrong := Envelope{Seq: 2, Kit: "A", KitSeq: 2, KitPrev: &h3}

	r := Roll{}
	require.NoError(t, r.Add(first, h1, false))
	require.NoError(t, r.Add(Envelope{Seq: 9}, h3, false), "an entry without a device")
	require.NoError(t, r.Add(second, h2, false))
	require.Equal(t, []Head{{"A", 2, h2}}, r.Heads())
	require.ErrorContains(t, r.Add(second, h2, false),
		"entry 2: it is number 2 of device A, which already has 2")
	require.ErrorContains(t, r.Add(first, h2, true), "already has 2")

	require.ErrorContains(t, Roll{}.Add(second, h2, false), "of which only 0 came before")
	require.NoError(t, Roll{}.Add(second, h2, true), "a part may begin anywhere")
	r = Roll{}
	require.NoError(t, r.Add(first, h1, true))
	require.ErrorContains(t, r.Add(wrong, h2, true), "does not quote the entry of device A before it")
	require.ErrorContains(t, r.Add(third, h3, false), "of which only 1 came before")
	require.NoError(t, r.Add(third, h3, true), "a part may leave one out")
}

func TestReadRollCalled(t *testing.T) {
	ok := `{"events":[{"data":{"kits":3,"root":"` + EmptyRoot.String() +
		`"},"event":"roll_called"}],"result":"done"}`
	got, err := ReadRollCalled([]byte(ok))
	require.NoError(t, err)
	require.Equal(t, &RollCalled{Kits: 3, Root: EmptyRoot}, got)
	for _, none := range []string{`{}`, `{"note":"roll_called"}`, `{"events":"roll_called"}`,
		`{"events":[{"data":{},"event":"roll_called"}],"result":"refused"}`,
		`{"events":[{"data":"roll_called","event":"x"}],"result":"done"}`} {
		got, err := ReadRollCalled([]byte(none))
		require.NoError(t, err)
		require.Nil(t, got)
	}
	for _, bad := range []string{`{"kits":3}`, `{"kits":-1,"root":"` + EmptyRoot.String() + `"}`,
		`{"kits":"3"}`, `3`} {
		_, err := ReadRollCalled([]byte(`{"events":[{"data":` + bad +
			`,"event":"roll_called"}],"result":"done"}`))
		require.Error(t, err, bad)
	}
}

// BenchmarkRollRoot10000 is one roll call over ten thousand devices.
func BenchmarkRollRoot10000(b *testing.B) {
	heads := someHeads(10_000)
	b.ReportAllocs()
	for b.Loop() {
		_, err := RollRoot(heads)
		require.NoError(b, err)
	}
}
