package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

func TestOnePassOfAKit(t *testing.T) {
	b := newBench(t)
	kit := b.register("17")
	b.work(kit, b.pieceOf(kit), "17")
	p, err := Get[reprocess.Piece](context.Background(), b.Store, reprocess.TablePiece, b.pieceOf(kit))
	require.NoError(t, err)
	require.Equal(t, reprocess.Returned, p.State)
	require.Equal(t, 1, p.Cycles)
	verified(t, b.Dir())
}

// TestManyAtOnce is the report of two writers that forked a chain (52 parallel appends): here
// numbers are dense, the kit has one head, and each answer is its own entry.
func TestManyAtOnce(t *testing.T) {
	b := newBench(t)
	kit := b.register("17")
	before, err := b.Size(context.Background())
	require.NoError(t, err)
	const n = 50
	requests := make([]Request, n)
	for i := range requests {
		requests[i] = b.request(b.boss, reprocess.Move{Kit: kit, Place: fmt.Sprintf("place %d", i)})
	}
	entries := make([]*reprocess.Entry, n)
	var wg sync.WaitGroup
	for i := range requests {
		wg.Go(func() {
			e, err := b.Do(context.Background(), requests[i])
			if err == nil {
				entries[i] = e
			}
		})
	}
	wg.Wait()
	seqs := map[int64]bool{}
	for i, e := range entries {
		require.NotNil(t, e, i)
		require.Equal(t, fmt.Sprintf("place %d", i), e.Events[0].Event.(reprocess.KitMoved).Place)
		require.False(t, seqs[e.Seq])
		seqs[e.Seq] = true
		require.Greater(t, e.Seq, before)
		require.LessOrEqual(t, e.Seq, before+n)
	}
	heads, size, err := b.Heads(context.Background())
	require.NoError(t, err)
	require.Len(t, heads, 1)
	require.Equal(t, int64(n+1), heads[0].Seq)
	require.Equal(t, before+n, size)
	verified(t, b.Dir())
}

// TestARepeatedKeyCountsOnce: after a lost answer the phone sends again (done but never
// acknowledged was the outcome of most kills in a loop; common practice: idempotency key).
func TestARepeatedKeyCountsOnce(t *testing.T) {
	b := newBench(t)
	kit := b.register("17")
	done := b.request(b.boss, reprocess.Move{Kit: kit, Place: "drawer"})
	refused := b.request(b.boss, reprocess.HandOut{Kit: kit, Wearer: "w", Days: 3})
	var first, last [2]*reprocess.Entry
	var problem [2]*reprocess.Problem
	for round := range 3 {
		for i, r := range []Request{done, refused} {
			e, err := b.Do(context.Background(), r)
			problem[i] = reprocess.AsProblem(err)
			if round == 0 {
				first[i] = e
			}
			last[i] = e
		}
		b.clock.pass(1e9)
	}
	require.Equal(t, first, last)
	require.Nil(t, problem[0])
	require.Equal(t, "not_released", problem[1].Rule)
	require.Equal(t, first[1].Refusal.Problem(), problem[1])
	n, err := b.Size(context.Background())
	require.NoError(t, err)
	require.Equal(t, first[1].Seq, n)

	answers, err := b.DoMany(context.Background(), []Request{done, done, refused})
	require.NoError(t, err)
	require.Equal(t, first[0].Seq, answers[1].Seq)
	require.Equal(t, problem[1], answers[2].Problem)

	fresh := b.request(b.boss, reprocess.Move{Kit: kit, Place: "shelf"})
	answers, err = b.DoMany(context.Background(), []Request{fresh, fresh})
	require.NoError(t, err)
	require.Equal(t, answers[0], answers[1], "a repeat within one batch")
	verified(t, b.Dir())
}

func TestAKeyOfSomethingElseIsNoRepeat(t *testing.T) {
	b := newBench(t)
	kit := b.register("17")
	r := b.request(b.boss, reprocess.Move{Kit: kit, Place: "drawer"})
	_, err := b.Do(context.Background(), r)
	require.NoError(t, err)
	other := r
	other.Cmd = reprocess.OpenParcel{Kit: kit}
	_, err = b.Do(context.Background(), other)
	require.Equal(t, "key_used", reprocess.AsProblem(err).Rule)
	other = r
	other.Actor = reprocess.Console()
	_, err = b.Do(context.Background(), other)
	require.Equal(t, "key_used", reprocess.AsProblem(err).Rule)
	for _, key := range []string{strings.Repeat("a", 65), "a b", "ä", "a/b", "a\n"} {
		r.Key = key
		_, err = b.Do(context.Background(), r)
		require.Equal(t, reprocess.Invalid, reprocess.AsProblem(err).Code, key)
	}
	r.Key = strings.Repeat("aZ9_-x", 10) + "abcd" // 64
	_, err = b.Do(context.Background(), r)
	require.NoError(t, err)
}

// TestWhatIsRecorded: a refusal by a rule is an entry with what was asked; what could not be
// understood, and whatever nobody signed in asks, is none.
// A form of one kit whose key comes with another kit was edited: answering it from the first
// kit's entry would say that the other one was released.
func TestAKeyOfAnotherKitIsNoRepeat(t *testing.T) {
	b := newBench(t)
	one, two := b.register("17"), b.register("18")
	r := b.request(b.boss, reprocess.Move{Kit: one, Place: "drawer"})
	_, err := b.Do(context.Background(), r)
	require.NoError(t, err)
	r.Cmd = reprocess.Move{Kit: two, Place: "drawer"}
	_, err = b.Do(context.Background(), r)
	require.Error(t, err)
	require.Equal(t, "key_used", reprocess.AsProblem(err).Rule)
	verified(t, b.Dir())
}

// The rule about a stopped lot's number sees lots that no command named, also after a restart.
func TestAStoppedNumberIsFoundAmongAllLots(t *testing.T) {
	b := newBench(t)
	lot := b.lotOf(b.container)
	b.must(b.boss, reprocess.StopLot{Lot: lot.ID, Reason: "called back"})
	again := *lot
	again.ID, again.Number = "", "w-77"
	require.NoError(t, b.Close())
	b.Store = open(t, b.Dir(), b.clock) // nothing is remembered
	b.refused("lot_stopped", b.boss, reprocess.SetLot{Lot: again})
}

func (b *bench) lotOf(container string) *reprocess.Lot {
	b.Helper()
	c, err := Get[reprocess.Container](context.Background(), b.Store, reprocess.TableContainer, container)
	require.NoError(b, err)
	lot, err := Get[reprocess.Lot](context.Background(), b.Store, reprocess.TableLot, c.Lot)
	require.NoError(b, err)
	return lot
}

func TestWhatIsRecorded(t *testing.T) {
	b := newBench(t)
	kit := b.register("17")
	e := b.refused("not_released", b.boss, reprocess.HandOut{Kit: kit, Wearer: "w9", Days: 3})
	require.Equal(t, reprocess.ResultRefused, e.Result)
	require.Empty(t, e.Events)
	require.Equal(t, kit, e.Kit)
	require.JSONEq(t, `{"kit":"`+kit+`","wearer":"w9","days":3}`, string(e.Asked))

	e = b.refused("unknown", b.boss, reprocess.Move{Kit: "K999", Place: "x"})
	require.Empty(t, e.Kit, "a kit that is not there has no chain")

	size, err := b.Size(context.Background())
	require.NoError(t, err)
	for _, c := range []struct {
		actor reprocess.Actor
		cmd   reprocess.Command
		code  reprocess.Code
	}{
		{b.boss, reprocess.RecordStep{Kit: kit, Step: "nonsense"}, reprocess.Invalid},
		{reprocess.Actor{}, reprocess.Move{Kit: kit, Place: "x"}, reprocess.Forbidden},
		{reprocess.Actor{Person: &reprocess.Person{ID: "S99", Roles: reprocess.Roles()}, Signed: true},
			reprocess.Move{Kit: kit, Place: "x"}, reprocess.Forbidden},
		{b.boss, reprocess.SetProduct{Product: reprocess.Product{Name: "Wipe", Use: reprocess.SoakedWipe,
			Basis: "line\nbreak", AsWritten: "page 4", WrittenS: 60,
			Actives: []reprocess.Active{{Agent: "quat", Strength: "0.5%"}}}}, reprocess.Invalid},
	} {
		e, err := b.Do(context.Background(), b.request(c.actor, c.cmd))
		require.Nil(t, e)
		require.Equal(t, c.code, reprocess.AsProblem(err).Code, "%v", err)
	}
	after, err := b.Size(context.Background())
	require.NoError(t, err)
	require.Equal(t, size, after)
	verified(t, b.Dir())
}

// TestRolesAreThoseOfNow: a session knows a person as they were when it began.
func TestRolesAreThoseOfNow(t *testing.T) {
	b := newBench(t)
	e := b.must(b.boss, reprocess.SetPerson{Person: reprocess.Person{Name: "Bo Finch", SignIn: "bo",
		Roles: []reprocess.Role{reprocess.RoleAuditor}}})
	was := e.Events[0].Event.(reprocess.PersonSet).Person
	was.Roles = reprocess.Roles() // as a forged or stale session would have it
	kit := b.register("17")
	b.refused("role", reprocess.Actor{Person: &was}, reprocess.Move{Kit: kit, Place: "x"})
}

// oddMove is a command whose JSON has no canonical form; it is refused for the role of nobody.
type oddMove struct {
	reprocess.Move
	Share float64 `json:"Share"`
}

func TestWhatWasAskedIsKeptEvenIfItHasNoCanonicalForm(t *testing.T) {
	b := newBench(t)
	e := b.refused("unknown", b.boss, oddMove{reprocess.Move{Kit: "K999", Place: "x"}, 0.5})
	var text string
	require.NoError(t, json.Unmarshal(e.Asked, &text))
	require.JSONEq(t, `{"kit":"K999","place":"x","Share":0.5}`, text)
	long := oddMove{reprocess.Move{Kit: "K999", Place: strings.Repeat("x", 70_000)}, 0.5}
	require.Empty(t, b.refused("unknown", b.boss, long).Asked)
	verified(t, b.Dir())
}

// TestAClientThatGoesAwayUndoesNothing: a request's context never reaches the transaction (a
// cancelled context rolls a whole SQLite transaction back).
func TestAClientThatGoesAwayUndoesNothing(t *testing.T) {
	b := newBench(t)
	kit := b.register("17")
	gone, cancel := context.WithCancel(context.Background())
	hold, held := make(chan struct{}), make(chan struct{})
	go b.side(context.Background(), func(*sql.Tx) error { close(held); <-hold; return nil })
	<-held
	result := make(chan error, 1)
	r := b.request(b.boss, reprocess.Move{Kit: kit, Place: "drawer"})
	go func() { _, err := b.Do(gone, r); result <- err }()
	cancel()
	require.Contains(t, []string{"slow", ""}, reprocess.AsProblem(<-result).Rule)
	close(hold)
	e, err := b.Do(context.Background(), r)
	require.NoError(t, err, "the repeat is answered, whichever came first")
	n, err := b.Size(context.Background())
	require.NoError(t, err)
	require.Equal(t, e.Seq, n)
	verified(t, b.Dir())
}

// TestOneBadAskDoesNotTakeTheOthersWithIt fails a statement inside a batch: the others are
// replayed one by one and stand, the bad one leaves no trace.
func TestOneBadAskDoesNotTakeTheOthersWithIt(t *testing.T) {
	b := newBench(t)
	kit := b.register("17")
	boom := errors.New("no disk today")
	hold, held := make(chan struct{}), make(chan struct{})
	go b.side(context.Background(), func(*sql.Tx) error { close(held); <-hold; return nil })
	<-held
	results := make([]error, 10)
	var queued, wg sync.WaitGroup
	for i := range results {
		r := b.request(b.boss, reprocess.Move{Kit: kit, Place: fmt.Sprintf("place %d", i)})
		if i == 4 {
			r.also = func(*sql.Tx, *reprocess.Entry) error { return boom }
		}
		if i == 7 {
			r.also = func(*sql.Tx, *reprocess.Entry) error { panic("a fault in a table") }
		}
		queued.Add(1)
		wg.Go(func() {
			queued.Done()
			_, results[i] = b.Do(context.Background(), r)
		})
	}
	queued.Wait()
	close(hold)
	wg.Wait()
	for i, err := range results {
		if i == 4 || i == 7 {
			require.Equal(t, reprocess.Internal, reprocess.AsProblem(err).Code)
			require.NotContains(t, err.Error(), "no disk today", "foreign text reaches nobody")
			continue
		}
		require.NoError(t, err, i)
	}
	n, err := b.Count(context.Background(), Filter{Act: reprocess.ActMove})
	require.NoError(t, err)
	require.Equal(t, int64(8), n)
	verified(t, b.Dir())
}

// TestSideTransactions run between batches, roll back on an error and survive a panic.
func TestSideTransactions(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	require.Error(t, b.side(ctx, func(tx *sql.Tx) error {
		_, err := tx.Exec(`INSERT INTO secret_mac (id, doc) VALUES ('S5', '""')`)
		require.NoError(t, err)
		return errors.New("no")
	}))
	require.Error(t, b.side(ctx, func(*sql.Tx) error { panic("fault") }))
	b.register("17")
	verified(t, b.Dir())
}

// TestEveryEventNamesItsRows: an event without a line in refsOf would be folded on rows that
// were not loaded.
func TestEveryEventNamesItsRows(t *testing.T) {
	filled := `{"person":"S1","id":"X1","model":"M1","phone":"F1","lot":"T1","container":"C1",
		"code":"A1","kit":"K1","pieces":["P1"],"came":["P1"],"cycle":"Y1","piece":"P1",
		"cycles":["Y1"],"loan":"L1","version":1,
		"day":"2026-11-24","finding":"F1","hold":"H1","document":"Q1"}`
	for _, name := range reprocess.EventNames() {
		data := filled
		switch name {
		case "kit_registered":
			data = `{"kit":{"id":"K1"},"pieces":[{"id":"P1"}]}`
		case "kit_released":
			data = `{"kit":"K1","cycles":[{"piece":"P1","cycle":"Y1"}]}`
		}
		var known map[string]any
		require.NoError(t, json.Unmarshal([]byte(data), &known))
		event := decodeKnown(t, name, known)
		switch name {
		case "settings_set", "foreign_item", "exported", "roll_called", "warning_noted", "files_removed", "turned_away",
			"look_back_acted": // about no row with a name
			require.Empty(t, refsOf(event))
			continue
		}
		require.NotEmpty(t, refsOf(event), name)
	}
}

// decodeKnown decodes an event from those of the fields that it has.
func decodeKnown(t *testing.T, name string, fields map[string]any) reprocess.Event {
	t.Helper()
	for {
		data, err := json.Marshal(fields)
		require.NoError(t, err)
		var box reprocess.Box
		err = json.Unmarshal([]byte(`{"event":"`+name+`","data":`+string(data)+`}`), &box)
		if err == nil {
			return box.Event
		}
		_, rest, found := strings.Cut(err.Error(), `unknown field "`)
		if !found { // a field of another kind
			_, rest, found = strings.Cut(err.Error(), "of type ")
			require.True(t, found, "%s: %v", name, err)
			for field := range fields {
				if strings.Contains(err.Error(), "."+field+" ") {
					rest = field + `"`
				}
			}
		}
		field, _, _ := strings.Cut(rest, `"`)
		require.Contains(t, fields, field, "%s: %v", name, err)
		delete(fields, field)
	}
}
