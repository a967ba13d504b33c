package reprocess

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var rollRoot = strings.Repeat("0a", 32)

func callRoll(actor Actor, r RollCall, seq int64) ([]Event, *Problem) {
	return Decide(NewWorld(), r, actor, Now{UTC: 1_790_000_000_000}, seq)
}

// Source: our own rule; the two members are what package ledger reads of a roll call.
func TestRollCallIsRecorded(t *testing.T) {
	events, p := callRoll(Console(), RollCall{3, rollRoot, 7}, 8)
	require.Nil(t, p)
	require.Equal(t, []Event{RollCalled{3, rollRoot}}, events)
	text, err := json.Marshal(Box{events[0]})
	require.NoError(t, err)
	require.JSONEq(t, `{"event":"roll_called","data":{"kits":3,"root":"`+rollRoot+`"}}`, string(text))
	var back Box
	require.NoError(t, json.Unmarshal(text, &back))
	require.Equal(t, events[0], back.Event)
}

func TestRollCallRefuses(t *testing.T) {
	for _, r := range []struct {
		rule string
		call RollCall
	}{
		{"overtaken", RollCall{3, rollRoot, 6}}, {"overtaken", RollCall{3, rollRoot, 8}},
		{"root", RollCall{-1, rollRoot, 7}}, {"root", RollCall{3, rollRoot[2:], 7}},
		{"root", RollCall{3, strings.ToUpper(rollRoot), 7}}, {"root", RollCall{3, "", 7}},
		{"root", RollCall{3, "zz" + rollRoot[2:], 7}},
	} {
		_, p := callRoll(Console(), r.call, 8)
		require.NotNil(t, p, "%+v", r)
		require.Equal(t, r.rule, p.Rule)
		require.Equal(t, Invalid, p.Code, "what was overtaken is no entry")
	}
	_, p := callRoll(Actor{Person: &Person{ID: "S2", Name: "Ola", Roles: []Role{RoleRelease}}},
		RollCall{3, rollRoot, 7}, 8)
	require.Equal(t, Forbidden, p.Code)
}
