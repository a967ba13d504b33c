package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// What is counted rather than written down one by one: common practice of log reviews (OWASP
// ASVS 5.0.0, 16.3.1, asks that failed sign-ins are on record; which form is left open).

func TestOnlyTheServerCountsByFullHours(t *testing.T) {
	c := newClinic(t)
	hour := HourOf(c.now.UTC)
	require.LessOrEqual(t, hour, c.now.UTC)
	require.Less(t, c.now.UTC-hour, Instant(3_600_000))
	one := []Counted{{"wait", 2}, {"secret", 3}}
	e := c.do(Console(), CountTurnedAway{From: hour, Counts: one})
	require.Equal(t, TurnedAway{From: hour, Counts: []Counted{{"secret", 3}, {"wait", 2}}},
		e.Events[0].Event, "in the order of the kinds, whatever order they came in")
	require.Equal(t, "wait", one[0].Of, "the caller's list stays")
	c.refused("server_counts", c.actor("boss"), CountTurnedAway{From: hour, Counts: one})
	for rule, x := range map[string]CountTurnedAway{
		"hour":  {From: hour + 1, Counts: one},
		"kind":  {From: hour, Counts: []Counted{{"ada", 1}}},
		"count": {From: hour, Counts: []Counted{{"secret", 0}}},
	} {
		c.refused(rule, Console(), x)
	}
	c.refused("hour", Console(), CountTurnedAway{From: hour + 3_600_000, Counts: one}) // to come
	c.refused("hour", Console(), CountTurnedAway{Counts: one})
	c.refused("count", Console(), CountTurnedAway{From: hour})
	c.refused("count", Console(), CountTurnedAway{From: hour, Counts: []Counted{{"secret", 1}, {"secret", 1}}})
}

func TestWhatAPassReads(t *testing.T) {
	c := newClinic(t)
	e := c.do(c.actor("boss"), IssuePass{Name: "Inspector", Until: c.now.Today()})
	id := e.Events[0].Event.(PersonSet).ID
	guest := Actor{Person: c.w.People[id]}
	require.Equal(t, PassUsed{id}, c.do(guest, UsePass{}).Events[0].Event)
	c.refused("role", c.actor("dan"), UsePass{})
	c.w.People["gil"] = &Person{ID: "gil", Name: "Gil", SignIn: "gil", Roles: []Role{RoleAuditor}}
	c.refused("no_pass", c.actor("gil"), UsePass{})
	hour := HourOf(c.now.UTC)
	pages := []Counted{{"trail", 2}}
	c.do(Console(), CountPassRead{Person: id, From: hour, Pages: pages})
	c.refused("unknown", Console(), CountPassRead{Person: "boss", From: hour, Pages: pages})
	c.refused("unknown", Console(), CountPassRead{Person: "S9", From: hour, Pages: pages})
	c.refused("empty", Console(), CountPassRead{Person: id, From: hour, Pages: []Counted{{" ", 2}}})
	c.refused("server_counts", c.actor("boss"), CountPassRead{Person: id, From: hour, Pages: pages})
}

// TestASecretByACode names who else was signed in, and only with a code.
func TestASecretByACode(t *testing.T) {
	c := newClinic(t)
	mac := "0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a"
	ada := c.actor("ada")
	e := c.do(ada, SetSecret{Person: "ada", MAC: mac, Code: true, Beside: "boss"})
	require.Equal(t, SecretSet{Person: "ada", MAC: mac, Code: true, Beside: "boss"}, e.Events[0].Event)
	require.Equal(t, mac, c.w.Secrets["ada"])
	c.refused("unknown", ada, SetSecret{Person: "ada", MAC: mac, Beside: "boss"})
	c.refused("unknown", ada, SetSecret{Person: "ada", MAC: mac, Code: true, Beside: "S9"})
}
