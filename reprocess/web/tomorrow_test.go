package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// The plan of the desk against what there is; tomorrow's shortage is on the morning page from
// the hour of the settings on.
func TestThePlanAgainstWhatThereIs(t *testing.T) {
	c := newClinic(t)
	d := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	d.get("/tomorrow")
	require.Contains(t, d.body, "Nothing is wanted yet for the next days.")
	model := c.models[0]
	for why, pairs := range map[string][]string{
		"No model was chosen":         {"day", "2026-11-25", "count", "1"},
		"is no day to plan for":       {"day", "2026-11-23", "model", model, "count", "1"},
		"is not a day like":           {"day", "Thu", "model", model, "count", "1"},
		"is no whole number":          {"day", "2026-11-25", "model", model, "count", "1.5"},
		"501 kits cannot be right":    {"day", "2026-11-25", "model", model, "count", "501"},
		"How many are wanted was not": {"day", "2026-11-25", "model", model},
	} {
		d.refused(why, "/tomorrow", "/tomorrow", pairs...)
		require.Contains(t, d.body, "How many are wanted?")
	}
	d.done("/tomorrow", "/tomorrow", "day", "2026-11-25", "model", model, "count", "1")
	d.get("/tomorrow")
	require.Contains(t, d.body, "<h2>Tomorrow</h2>")
	require.Contains(t, d.body, "Model recorder: 1 short")
	require.Contains(t, d.body, "Wanted 1. Ready 0, at the bench 0, due back before 0.")
	d.get("/today") // 14:05, shown from 14:00 on
	require.Contains(t, d.body, "Tomorrow, Model recorder: 1 short")
	c.must(reprocess.SetRoutine{Routine: reprocess.Routine{ShortFrom: "14:06"}})
	d.get("/today")
	require.NotContains(t, d.body, "1 short")
	c.clock.step(time.Minute)
	d.get("/today")
	require.Contains(t, d.body, "1 short")

	c.toDrying()
	d.get("/tomorrow")
	require.Contains(t, d.body, "1 short, unless the bench and the returns bring them")
	d.done("/tomorrow", "/tomorrow", "day", testDay, "model", model, "count", "2")
	d.get("/today")
	require.Contains(t, d.body, "Today, Model recorder: 2 short, 1 at best")
	d.done("/tomorrow", "/tomorrow", "day", "2026-11-25", "model", model, "count", "0")
	d.get("/tomorrow")
	require.NotContains(t, d.body, "<h2>Tomorrow</h2>")
	require.Less(t, len(d.body), 16_000)

	ina := c.person("Ina Control", "ina", reprocess.RoleInfection)
	ina.get("/tomorrow")
	require.NotContains(t, ina.body, "How many are wanted?")
	ina.post("/tomorrow", "day", "2026-11-25", "model", model, "count", "3")
	require.Equal(t, http.StatusForbidden, ina.status)
}
