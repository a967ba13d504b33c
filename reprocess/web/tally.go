package web

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"

	"github.com/gofiber/fiber/v2"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// tally counts what makes one entry an hour and not one each: refusals without a session, and
// pages read with a pass. Nothing runs by itself: the first request of a later hour writes the
// hour before down, and so does the end of the server. A crash loses the counts of its hour.
type tally struct {
	mu     sync.Mutex
	hour   reprocess.Instant
	turned map[string]int64
	read   map[string]map[string]int64 // by person, by page
}

// add counts one request in its hour; empty names count nothing. It gives what an earlier hour
// had counted, nil when nothing is due. Cost: a lock and a comparison.
func (t *tally) add(at reprocess.Instant, refusal, person, page string) *tally {
	t.mu.Lock()
	defer t.mu.Unlock()
	var due *tally
	if hour := reprocess.HourOf(at); hour != t.hour {
		due = t.take()
		t.hour = hour
	}
	if refusal != "" {
		t.turned = counted(t.turned, refusal)
	}
	if person != "" && page != "" {
		if t.read == nil {
			t.read = map[string]map[string]int64{}
		}
		t.read[person] = counted(t.read[person], page)
	}
	return due
}

func counted(m map[string]int64, of string) map[string]int64 {
	if m == nil {
		m = map[string]int64{}
	}
	m[of]++
	return m
}

// take empties the tally; the lock is held.
func (t *tally) take() *tally {
	if len(t.turned) == 0 && len(t.read) == 0 {
		return nil
	}
	due := &tally{hour: t.hour, turned: t.turned, read: t.read}
	t.turned, t.read = nil, nil
	return due
}

// soFar gives what somebody read with a pass in this hour, which no entry holds yet.
func (t *tally) soFar(person string) []reprocess.Counted {
	t.mu.Lock()
	defer t.mu.Unlock()
	return inOrder(t.read[person])
}

func inOrder(m map[string]int64) []reprocess.Counted {
	var all []reprocess.Counted
	for _, of := range slices.Sorted(maps.Keys(m)) {
		all = append(all, reprocess.Counted{Of: of, N: m[of]})
	}
	return all
}

// count counts a request that was answered.
func (s *Server) count(v *Visit) {
	refusal, person, page := "", "", ""
	switch {
	case v.Person == nil:
		refusal = turnedAway[v.refused]
	case v.Person.Pass && v.route != nil && v.c.Response().StatusCode() == fiber.StatusOK:
		person, page = v.Person.ID, v.route.name()
	}
	s.write(s.tally.add(v.Now.UTC, refusal, person, page))
}

// turnedAway sorts the rules by which nobody gets in into kinds; what ends by itself, such as a
// session in which nothing was done, is none.
var turnedAway = map[string]string{"wrong_secret": "secret", "secret_short": "secret",
	"secret_swapped": "secret", "wait": "wait", "locked_out": "closed",
	"signed_out": "session", "secret_changed": "session", "left": "session",
	"phone_unknown": "phone", "phone_ended": "phone", "code": "code",
	"other_site": "form", "old_form": "form", ruleOften: "often"}

// ruleOften marks a question without a session that came too often.
const ruleOften = "often"

// name is what a count of readings calls a route: its page where that is named after its place,
// else its address without values; a drawing that many places share would not say what was read.
func (r *Route) name() string {
	var parts []string
	for _, p := range strings.Split(r.Path, "/") {
		if p != "" && !strings.HasPrefix(p, ":") {
			parts = append(parts, p)
		}
	}
	if r.Page != "" && (len(parts) == 0 || strings.HasPrefix(r.Page, parts[0])) {
		return r.Page
	}
	return strings.Join(parts, "-")
}

// write writes an hour's counts down as entries of the server.
func (s *Server) write(due *tally) {
	if due == nil {
		return
	}
	var cmds []reprocess.Command
	if counts := inOrder(due.turned); len(counts) > 0 {
		cmds = append(cmds, reprocess.CountTurnedAway{From: due.hour, Counts: counts})
	}
	for _, person := range slices.Sorted(maps.Keys(due.read)) {
		cmds = append(cmds, reprocess.CountPassRead{Person: person, From: due.hour,
			Pages: inOrder(due.read[person])})
	}
	for _, cmd := range cmds {
		_, err := s.store.Do(context.Background(), sqlite.Request{Cmd: cmd,
			Actor: reprocess.Console()})
		if err != nil {
			s.log.Error("counts of an hour were not written down", "act", cmd.Act(), "err", err)
		}
	}
}

// flush writes down what was counted so far, at the end of the server.
func (s *Server) flush() {
	s.tally.mu.Lock()
	due := s.tally.take()
	s.tally.mu.Unlock()
	s.write(due)
}

// watchWords is an event of these counts in words, empty for any other.
func watchWords(w *reprocess.World, event reprocess.Event) string {
	switch ev := event.(type) {
	case reprocess.TurnedAway:
		return "Turned away without a session, hour from " + clockOf(ev.From, zoneOf(w)) + ": " +
			countWords(ev.Counts, func(kind string) string {
				words, _ := reprocess.TurnedAwayWords(kind)
				return words
			})
	case reprocess.PassRead:
		return nameOf(w, ev.Person) + " read with a pass, hour from " + clockOf(ev.From, zoneOf(w)) +
			": " + countWords(ev.Pages, pageWords)
	case reprocess.PassUsed:
		return nameOf(w, ev.Person) + " signed in with a pass"
	}
	return ""
}

func pageWords(page string) string { return strings.ReplaceAll(page, "-", " ") }

func countWords(counts []reprocess.Counted, words func(string) string) string {
	var parts []string
	for _, n := range counts {
		parts = append(parts, fmt.Sprintf("%s %d×", words(n.Of), n.N))
	}
	return strings.Join(parts, ", ")
}

// usedPass writes a sign-in with a pass down; where that fails the new session does not begin.
func (v *Visit) usedPass(token string, person *reprocess.Person) error {
	if person == nil || !person.Pass {
		return nil
	}
	session, err := v.Store().SessionOf(v.Context(), token, false)
	if err == nil {
		_, err = v.Store().Do(v.Context(), sqlite.Request{Cmd: reprocess.UsePass{},
			Actor: reprocess.Actor{Person: person, Phone: session.Phone}})
	}
	if err != nil {
		if out := v.Store().SignOut(v.Context(), token); out != nil {
			v.server.log.Error("ending the session of a pass", "id", v.id, "err", out)
		}
	}
	return err
}
