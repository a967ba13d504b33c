package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The answers are this project's own; single-use parts are thrown away (the function-test page,
// section 6).
func TestWhatBecameOfSingleUseParts(t *testing.T) {
	for left, ok := range map[string]bool{"": true, "discarded": true, "none": true,
		"not_asked": true, "kept": false, "Discarded": false} {
		c := newClinic(t)
		e, p := c.try(c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Left: left}})
		if !ok {
			require.NotNil(t, p, left)
			require.Equal(t, "answer", p.Rule)
			continue
		}
		require.Nil(t, p, left)
		require.Equal(t, left, e.Events[0].Event.(TakenBack).Return.Left)
	}
}
