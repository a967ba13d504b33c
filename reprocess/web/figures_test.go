package web

import (
	"context"
	"encoding/csv"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// Our own cases: one kit released without a return, handed out, taken back, released again.

func TestFiguresOfOneKit(t *testing.T) {
	c := newClinic(t)
	desk := c.handedOut()
	_ = desk
	_, err := c.store.Do(context.Background(), sqlite.Request{Actor: c.boss,
		Cmd: reprocess.ReleaseKit{Kit: c.kit}})
	require.Error(t, err)
	b := c.auditor()
	b.get("/figures")
	require.Equal(t, http.StatusOK, b.status)
	for _, want := range []string{"How is it going?", "Dec 2025 to Nov 2026, all models",
		"100 % (2 of 2)", "1 released without a return on record", "Release: ",
		"The clinic has set no time to aim at", "look for the cause"} {
		require.Contains(t, b.text(), want)
	}
	require.NotContains(t, b.text(), "Ben Bench", "the figures name nobody")
	require.Less(t, len(b.body), 50_000)

	c.clock.step(30 * 24 * time.Hour)
	b = c.auditorAgain()
	b.get("/figures?from=2026-11&to=2026-12")
	require.Contains(t, b.text(), "Still out</dt><dd>100 % (1 of 1)")
}

// auditorAgain signs the auditor in anew, after a long time.
func (s *testSite) auditorAgain() *browser {
	b := s.enrolled()
	b.signIn("gil", testSecret)
	return b
}

func TestFiguresRefuseInWords(t *testing.T) {
	c := newClinic(t)
	b := c.auditor()
	for address, want := range map[string]string{
		"/figures?from=2026":                    "is not a month like 2026-11",
		"/figures?from=2026-11&to=2026-10":      "ends before it begins",
		"/figures?from=2020-01&to=2026-10":      "more than three years",
		"/figures?model=M99":                    "There is no model",
		"/figures/year?year=26":                 "is not a year like 2026",
		"/figures/year?year=2026&model=M99":     "There is no model",
		"/figures/year/file?year=1989":          "is not a year like 2026",
		"/figures/year/file?year=%2B2026":       "is not a year like 2026",
		"/figures?from=2026-11-01&to=2026-11-2": "is not a month",
	} {
		b.get(address)
		require.Contains(t, []int{http.StatusBadRequest, http.StatusNotFound}, b.status, address)
		require.Contains(t, b.text(), want, address)
	}
}

func TestTheYearOnOneSheet(t *testing.T) {
	c := newClinic(t)
	c.handedOut()
	b := c.auditor()
	b.get("/figures/year")
	require.Equal(t, http.StatusOK, b.status)
	for _, want := range []string{"How was the pool used in 2026?", "Handed out", "Share out, %",
		"How this was checked"} {
		require.Contains(t, b.text(), want)
	}
	require.Less(t, len(b.body), 50_000)
	b.get("/figures/year/file?year=2026")
	require.Equal(t, http.StatusOK, b.status)
	require.Contains(t, b.header.Get("Content-Disposition"), "figures-2026.csv")
	rows, err := csv.NewReader(strings.NewReader(b.body)).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 1+12*(1+len(c.world().Models)))
	require.Equal(t, []string{"month", "site", "model", "hand_outs"}, rows[0][:4])
	for _, row := range rows[1:] {
		want := "0"
		if row[0] == "2026-11" && row[2] == "all" {
			want = "1"
		}
		if row[2] == "all" {
			require.Equal(t, want, row[3], row[0])
		}
	}
}

func TestTheTargetIsTheClinics(t *testing.T) {
	c := newClinic(t)
	s := c.world().Settings
	s.TargetHours = 24
	c.must(reprocess.SetSettings{Settings: s})
	c.must(reprocess.TakeBack{Kit: c.kit})
	c.clock.step(25 * time.Hour)
	b := c.auditor()
	b.get("/figures")
	require.Contains(t, b.text(), "In the house for longer than 24 h now: 1 kit.")
	for hours, ok := range map[int]bool{0: true, 1: true, 720: true, -1: false, 721: false} {
		s.TargetHours = hours
		_, err := c.store.Do(context.Background(), sqlite.Request{Actor: c.boss,
			Cmd: reprocess.SetSettings{Settings: s}})
		require.Equal(t, ok, err == nil, hours)
	}
}

// Cells that a spreadsheet would run (CWE-1236).
func TestPlainCells(t *testing.T) {
	for in, want := range map[string]string{"=1+1": "'=1+1", "@x": "'@x", "-x": "'-x", "＝1": "'＝1",
		"Main\r\nbuilding": "Main building", "": "", "a=b": "a=b"} {
		require.Equal(t, want, plainCell(in))
	}
}
