package reprocess

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What went along to be used up may be told as not come back, each once; nobody waits for it.
// A missing part of the kit is waited for, and has a short name.
func TestWhatDidNotComeBack(t *testing.T) {
	long := make([]string, mostParts+1)
	for i := range long {
		long[i] = "cable"
	}
	for _, bad := range []Return{{Short: []string{"cable"}}, {Short: []string{"cells", "cells"}},
		{Short: []string{""}}, {Short: []string{"cells", "electrodes", "cells"}},
		{Parts: []string{strings.Repeat("x", longestPart+1)}}, {Parts: []string{" "}},
		{Parts: long}} {
		c := newClinic(t)
		_, p := c.try(c.actor("dan"), TakeBack{Kit: "K18", Return: bad})
		require.NotNil(t, p, "%+v", bad)
		require.Equal(t, Invalid, p.Code)
	}
	c := newClinic(t)
	c.do(c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Short: []string{"electrodes", "cells"}}})
	k := c.w.Kits["K18"]
	require.Empty(t, k.Waiting, "the next wearer gets new ones")
	require.Empty(t, k.Missing)
	require.True(t, k.Return.ShortOf(ShortCells))
	require.False(t, (*Return)(nil).ShortOf(ShortCells))
	c.do(c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Missing: "yes",
		Parts: append(long[:mostParts-1:mostParts-1], strings.Repeat("x", longestPart))}})
	k = c.w.Kits["K18"]
	require.Len(t, k.Missing, mostParts)
	require.Equal(t, "part", k.Waiting[0].Reason)
	require.False(t, k.Return.ShortOf(ShortElectrodes))
}

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
