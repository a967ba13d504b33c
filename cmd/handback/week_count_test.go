package main

import (
	"fmt"
	"html"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/stretchr/testify/require"
)

// The figures of the year counted another way: a fold of our own over the lines of the export,
// as somebody would do it with a script. It knows names of events, and no code of the program.

// entryLine is what the count needs of an entry.
type entryLine struct {
	Seq    int64
	At     time.Time
	Act    string
	Result string
	Kit    string
	Events []struct {
		Event string
		Data  map[string]any
	}
}

// tally is a count of the year.
type tally struct {
	until            time.Time
	outs, lost       int
	cycles           int
	worn, pool       time.Duration
	waited           map[string]time.Duration
	hours            []float64
	lots             map[string]bool
	out              map[string]time.Time            // loan → since when
	back, registered map[string]time.Time            // kit → when
	waits            map[string]map[string]time.Time // kit → reason → since when
	used             map[string]map[string]bool      // cycle → lots
	size             map[string]int                  // loan → pieces
}

// tallied counts what the entries say until a moment.
func tallied(all []entryLine, until time.Time) *tally {
	n := &tally{until: until, waited: map[string]time.Duration{}, lots: map[string]bool{},
		out: map[string]time.Time{}, back: map[string]time.Time{}, registered: map[string]time.Time{},
		waits: map[string]map[string]time.Time{}, used: map[string]map[string]bool{},
		size: map[string]int{}}
	for _, e := range all {
		if e.Result != "done" || e.At.After(until) {
			continue
		}
		for _, x := range e.Events {
			n.take(e, x.Event, x.Data)
		}
	}
	for _, since := range n.out {
		n.worn += until.Sub(since)
	}
	for _, since := range n.registered {
		n.pool += until.Sub(since)
	}
	for kit := range n.waits {
		n.endWaits(kit, until)
	}
	return n
}

func (n *tally) take(e entryLine, event string, data map[string]any) {
	text := func(key string) string { s, _ := data[key].(string); return s }
	switch event {
	case "kit_registered":
		n.registered[e.Kit] = e.At
		if loan, ok := data["loan"].(map[string]any); ok {
			n.out[loan["id"].(string)] = e.At
			n.size[loan["id"].(string)] = len(loan["pieces"].([]any))
		}
	case "handed_out":
		if text("under") != "" { // a wearer on a ward: the ward has it already
			return
		}
		n.outs++
		at := e.At
		if claimed, err := time.Parse(time.RFC3339, text("out")); err == nil {
			at = claimed
		}
		n.out[text("id")], n.size[text("id")] = at, len(data["pieces"].([]any))
		n.endWaits(e.Kit, e.At)
	case "taken_back":
		if since, ok := n.out[text("loan")]; ok {
			n.worn += e.At.Sub(since)
			n.lost += n.size[text("loan")] - len(data["came"].([]any))
			delete(n.out, text("loan"))
			n.back[e.Kit] = e.At
		}
		n.endWaits(e.Kit, e.At)
	case "piece_moved":
		if text("state") == "missing" {
			n.lost++
		}
	default:
		n.atBench(e, event, data)
	}
}

// atBench counts waiting, records and releases.
func (n *tally) atBench(e entryLine, event string, data map[string]any) {
	switch event {
	case "waiting_set":
		if n.waits[e.Kit] == nil {
			n.waits[e.Kit] = map[string]time.Time{}
		}
		n.waits[e.Kit][data["reason"].(string)] = e.At
	case "waiting_ended":
		reason := data["reason"].(string)
		n.waited[reason] += e.At.Sub(n.waits[e.Kit][reason])
		delete(n.waits[e.Kit], reason)
	case "step_recorded":
		cycle, record := data["cycle"].(string), data["record"].(map[string]any)
		if n.used[cycle] == nil {
			n.used[cycle] = map[string]bool{}
		}
		if lot, ok := record["lot"].(string); ok {
			n.used[cycle][lot] = true
		}
		answers, _ := record["answers"].([]any)
		for _, a := range answers {
			if answer := a.(map[string]any); answer["ask"] == "cell" {
				n.used[cycle][answer["value"].(string)] = true
			}
		}
	case "kit_released":
		n.hours = append(n.hours, e.At.Sub(n.back[e.Kit]).Hours())
		for _, line := range data["cycles"].([]any) {
			n.cycles++
			for lot := range n.used[line.(map[string]any)["cycle"].(string)] {
				n.lots[lot] = true
			}
		}
		n.endWaits(e.Kit, e.At)
	}
}

func (n *tally) endWaits(kit string, at time.Time) {
	for reason, since := range n.waits[kit] {
		n.waited[reason] += at.Sub(since)
	}
	delete(n.waits, kit)
}

// percentile is that of NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.2: p (N + 1).
func percentile(values []float64, p float64) float64 {
	s := slices.Sorted(slices.Values(values))
	k, d := math.Modf(p * float64(len(s)+1))
	switch i := int(k); {
	case i < 1:
		return s[0]
	case i >= len(s):
		return s[len(s)-1]
	default:
		return s[i-1] + d*(s[i]-s[i-1])
	}
}

// yearPrint is the column of the whole year by the names of its lines, as it stands on paper.
func yearPrint(page string) map[string]string {
	row := regexp.MustCompile(`(?s)<tr><th scope="row">(.*?)</th>(.*?)</tr>`)
	cell := regexp.MustCompile(`<td class="number">(.*?)</td>`)
	all := map[string]string{}
	for _, m := range row.FindAllStringSubmatch(page, -1) {
		cells := cell.FindAllStringSubmatch(m[2], -1)
		all[html.UnescapeString(m[1])] = html.UnescapeString(cells[len(cells)-1][1])
	}
	return all
}

// theYear holds the print against the count.
func (w *week) theYear(all []entryLine) {
	w.t.Helper()
	n := tallied(all, w.counted)
	day := func(d time.Duration) float64 { return d.Hours() / 24 }
	print := yearPrint(w.year)
	whole := func(name string, want int) {
		w.t.Helper()
		require.Equal(w.t, strconv.Itoa(want), print[name], "%s: %v", name, print)
	}
	whole("Handed out", n.outs)
	whole("Cycles", n.cycles)
	whole("Lots used", len(n.lots))
	whole("Lost", n.lost)
	whole("To repair", 0)
	require.Equal(w.t, fmt.Sprintf("%.0f", day(n.worn)), print["Days worn"])
	require.Equal(w.t, fmt.Sprintf("%.0f", 100*day(n.worn)/day(n.pool)), print["Share out, %"])
	near := func(name string, want, within float64) {
		w.t.Helper()
		got, err := strconv.ParseFloat(strings.ReplaceAll(print[name], ",", "."), 64)
		require.NoError(w.t, err, "%s: %v", name, print)
		require.InDelta(w.t, want, got, within, name)
	}
	near("Turnaround, median h", percentile(n.hours, 0.5), 0.06)
	near("Turnaround, nine in ten, h", percentile(n.hours, 0.9), 0.06)
	for reason, words := range map[string]string{"charging": "Charging", "part": "A part to come",
		"technician": "A technician"} {
		require.Positive(w.t, n.waited[reason], reason)
		near(words, day(n.waited[reason]), 0.06)
	}
	require.Greater(w.t, n.outs, 5)
	require.Greater(w.t, n.cycles, 12)
}
