package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A broken phone is replaced by a new one. Source: common practice of pools (the recorder goes on
// with another phone, and the new one is cleaned before it goes out).
func TestASpareIsRegisteredAndComposed(t *testing.T) {
	w := importWorld()
	w.People["S1"] = &Person{ID: "S1", Name: "Maria", Roles: []Role{RoleSupervisor}}
	boss := asPerson(w, "S1")
	w.Pieces["P1"].Kit = "K1"
	events, p := decideStaff(t, w, boss, RegisterPiece{Phone, NewPiece{Model: "M2", Serial: "F9",
		Code: "7M2N4P6R8S0T2W5YH", Cycles: 3}}, 50)
	require.Nil(t, p)
	require.Len(t, events, 2)
	spare := w.Pieces["P50-1"]
	require.Equal(t, &Piece{ID: "P50-1", Kind: Phone, Model: "M2", Serial: "F9", Site: "s1",
		State: Registered, Cycles: 3}, spare)
	require.Equal(t, "P50-1", w.Labels["7M2N4P6R8S0T2W5YH"].Target)
	_, p = decideStaff(t, w, boss, Compose{Kit: "K1", Pieces: []string{"P1", "P50-1"}}, 51)
	require.Nil(t, p)
	require.Equal(t, "K1", w.Pieces["P50-1"].Kit)
	for rule, cmd := range map[string]RegisterPiece{
		"serial_taken": {Phone, NewPiece{Model: "M2", Serial: "F9"}},
		"model":        {Recorder, NewPiece{Model: "M2", Serial: "F10"}},
		"kind":         {"cable", NewPiece{Model: "M2", Serial: "F10"}},
		"label_bound":  {Phone, NewPiece{Model: "M2", Serial: "F10", Code: "7M2N4P6R8S0T2W5YH"}},
		"serial":       {Phone, NewPiece{Model: "M2"}},
	} {
		_, p = decideStaff(t, w, boss, cmd, 52)
		require.Equal(t, rule, ruleOf(p))
	}
}
