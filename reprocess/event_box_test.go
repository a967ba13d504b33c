package reprocess

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestABoxIsReadAsWritten: every event goes the short way in the form that entries have, and the
// short way reads what the long one reads.
func TestABoxIsReadAsWritten(t *testing.T) {
	for _, name := range EventNames() {
		zero, err := eventReaders[name]([]byte("{}"))
		require.NoError(t, err)
		facts, err := json.Marshal(zero)
		if err != nil { // a state is never nought
			facts = []byte("{}")
		}
		var short, long Box
		require.True(t, short.asWritten([]byte(`{"data":`+string(facts)+`,"event":"`+name+`"}`)), name)
		require.NoError(t, json.Unmarshal([]byte(`{"event":"`+name+`","data":`+string(facts)+`}`), &long))
		require.Equal(t, long, short)
	}
}

// TestABoxInAnotherForm is read the long way, or refused there; the short way never guesses.
func TestABoxInAnotherForm(t *testing.T) {
	moved := KitMoved{Kit: "K1", Place: `shelf","event":"x"}`}
	for text, want := range map[string]Event{
		`{"data":{"kit":"K1","place":"a"},"event":"kit_moved" }`:            KitMoved{Kit: "K1", Place: "a"},
		`{ "data":{"kit":"K1","place":"a"},"event":"kit_moved"}`:            KitMoved{Kit: "K1", Place: "a"},
		`{"event":"kit_moved","data":{"kit":"K1","place":"a"}}`:             KitMoved{Kit: "K1", Place: "a"},
		`{"data":{"kit":"K2"},"data":{"kit":"K1"},"event":"kit_moved"}`:     KitMoved{Kit: "K1"},
		`{"data":{"kit":"K1"},"event":"kit_moved","event":"parcel_opened"}`: ParcelOpened{"K1"},
	} {
		var b Box
		require.False(t, b.asWritten([]byte(text)), text)
		require.Nil(t, b.Event)
		require.NoError(t, json.Unmarshal([]byte(text), &b), text)
		require.Equal(t, want, b.Event)
	}
	var b Box
	text, err := json.Marshal(Box{moved})
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &b))
	require.Equal(t, moved, b.Event)
	for text, say := range map[string]string{
		`{"data":{"kit":"K1"},"event":"kit_flown"}`:           "does not know the event",
		`{"data":{"kit":"K1","wings":2},"event":"kit_moved"}`: "unknown field",
		`{"data":{"kit":"K1"}{},"event":"kit_moved"}`:         "invalid character",
		`{"data":{"kit":"K1","event":"kit_moved"}`:            "unexpected end",
		`{"data":{"kit":1},"event":"kit_moved"}`:              "event kit_moved",
		`{"data":{"kit":"K1"},"more":1,"event":"kit_flown"}`:  "does not know the event",
	} {
		var b Box
		require.False(t, b.asWritten([]byte(text)), text)
		err := json.Unmarshal([]byte(text), &b)
		require.Error(t, err, text)
		require.True(t, strings.Contains(err.Error(), say), "%s: %v", text, err)
	}
}
