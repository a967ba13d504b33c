package export

import (
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess/lookback"
)

// brewed adds to the season: T5 is a stock of product D5 with container B5; T6 (B6) was prepared
// from B5, T7 (B7) from a container of T5 without a label, T8 (B8) from another stock. P1 was
// wetted by B6 in C4, P2 by B7 in C5, P1 by B8 in C6.
func brewed() *log {
	l := season()
	l.add("50:00", "S1", "", event("product_set", `{"id":"D5","name":"Stock","use":"concentrate"}`),
		event("product_set", `{"id":"D6","name":"Made","use":"made_here"}`),
		event("lot_set", `{"id":"T5","kind":"disinfectant","product":"D5","number":"S 5"}`),
		event("lot_set", `{"id":"T6","kind":"disinfectant","product":"D6","number":"P61","from":"T5"}`),
		event("lot_set", `{"id":"T7","kind":"disinfectant","product":"D6","number":"P62","from":"T5"}`),
		event("lot_set", `{"id":"T8","kind":"disinfectant","product":"D6","number":"P63","from":"T0"}`),
		event("container_opened", `{"id":"B5","lot":"T5","number":"31"}`),
		event("container_opened", `{"id":"B6","lot":"T6","number":"32",`+
			`"batch":{"from_lot":"T5","from":"B5"}}`),
		event("container_opened", `{"id":"B7","lot":"T7","number":"33","batch":{"from_lot":"T5"}}`),
		event("container_opened", `{"id":"B8","lot":"T8","number":"34","batch":{"from_lot":"T0"}}`))
	for _, x := range [][4]string{{"C4", "P1", "B6", "T6"}, {"C5", "P2", "B7", "T7"},
		{"C6", "P1", "B8", "T8"}} {
		l.add("51:00", "S2", "K1", event("cycle_opened", `{"cycle":"`+x[0]+`","piece":"`+x[1]+
			`","kit":"K1","number":6,"procedure":"R1@3"}`), record(x[0], x[1],
			`"step":"disinfection","kind":"wet_now","container":"`+x[2]+`","lot":"`+x[3]+
				`","product":"D6","needed_s":60`))
	}
	return l
}

// A stock finds what was prepared from it: by lot and product every batch, by container those
// filled from it; a batch finds itself alone. Lists by hand.
func TestLookBackThroughABatch(t *testing.T) {
	text := brewed().String()
	for _, x := range []struct {
		q       lookback.Query
		cycles  []string
		batches []string
	}{
		{lookback.Query{Lot: "S 5"}, []string{"C4", "C5"}, []string{"T6", "T7"}},
		{lookback.Query{Lot: "T5"}, []string{"C4", "C5"}, []string{"T6", "T7"}},
		{lookback.Query{Product: "Stock"}, []string{"C4", "C5"}, []string{"T6", "T7"}},
		{lookback.Query{Container: "31"}, []string{"C4"}, []string{"T6"}},
		{lookback.Query{Lot: "S 5", Container: "31"}, []string{"C4"}, []string{"T6", "T7"}},
		{lookback.Query{Lot: "S 5", Product: "Stock", Piece: "P2"}, []string{"C5"},
			[]string{"T6", "T7"}},
		{lookback.Query{Lot: "P61"}, []string{"C4"}, nil},
		{lookback.Query{Container: "33"}, []string{"C5"}, nil},
		{lookback.Query{Product: "Made"}, []string{"C4", "C5", "C6"}, nil},
		{lookback.Query{Lot: "P63"}, []string{"C6"}, nil},
		{lookback.Query{Lot: "T2"}, []string{"C1"}, nil},
	} {
		r := ask(t, text, x.q)
		require.Equal(t, x.cycles, r.Cycles, "%+v", x.q)
		require.Equal(t, x.batches, r.Batches, "%+v", x.q)
	}
}
