package web

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Two figures on one label: both are kept and named where they do not agree.
func TestTwoFiguresOnALabel(t *testing.T) {
	s := newClinicSite(t)
	typed := []string{"name", "House wipe E70", "use", "pre_soaked_wipe", "agent.ethanol", "70%v/v",
		"claim.BAC.s", "60", "claim.YEA.s", "60", "models", s.recorder, "open_days", "28"}
	at := "/product/" + s.product + "/change"
	s.b.refused("has no basis", at, at, append(typed, "also.ethanol", "62.4%")...)
	require.Contains(t, s.b.body, `value="62.4%"`)
	s.b.done(at, at, append(typed, "also.ethanol", "62.4%w/w")...)
	s.b.get("/product/" + s.product)
	require.NotContains(t, s.b.body, "do not agree")
	s.b.done(at, at, append(typed, "also.ethanol", "60%w/w")...)
	s.b.get("/products")
	require.Contains(t, s.b.body, "70%v/v, and the label also says 60%w/w")
	s.b.get("/product/" + s.product)
	require.Contains(t, s.b.body, "Two figures of ethanol do not agree")
	s.b.get(at)
	require.Contains(t, s.b.body, `value="60%w/w"`, "it is not lost by the next change")
	con := s.b.done("/containers/open", "/containers/open", "lot", s.lot)
	s.b.get(con)
	require.Contains(t, s.b.body, "No. The strength of House wipe E70 cannot be judged")
}
