package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestAPassReadsUntilItsLastDay(t *testing.T) {
	c := newClinic(t)
	boss, today := c.actor("boss"), c.now.Today()
	c.refused("role", c.actor("ada"), IssuePass{Name: "Inspector", Until: today})
	unsigned := boss
	unsigned.Signed = false
	c.refused("signature", unsigned, IssuePass{Name: "Inspector", Until: today})
	c.refused("date", boss, IssuePass{Name: "Inspector"})
	c.refused("date", boss, IssuePass{Name: "Inspector", Until: "soon"})
	c.refused("empty", boss, IssuePass{Until: today})
	c.refused("pass_days", boss, IssuePass{Name: "Inspector", Until: today.AddDays(-1)})
	c.refused("pass_days", boss, IssuePass{Name: "Inspector", Until: today.AddDays(MostPassDays + 1)})
	c.do(boss, IssuePass{Name: "For long", Until: today.AddDays(MostPassDays)})

	e := c.do(boss, IssuePass{Name: "Inspector", Until: today})
	guest := Actor{Person: c.w.People[e.Events[0].Event.(PersonSet).ID], Signed: true}
	require.True(t, guest.Person.Pass)
	c.do(guest, RecordExport{Format: "evidence", Scope: "all", Size: c.seq})
	c.refused("is_pass", boss, SetPerson{Person: *guest.Person})
	c.refused("is_pass", boss, SetPerson{Person: Person{Name: "X", SignIn: "xx",
		Roles: []Role{RoleSupervisor}, Pass: true}})
	c.wait(24 * time.Hour)
	c.refused("left", guest, RecordExport{Format: "evidence", Scope: "all", Size: c.seq})
	c.refused("already_done", boss, EndPass{Person: guest.Person.ID})
}

// Every act of the table of rights is refused to a pass, but for the sign-in and the two it may.
func TestAPassNeverActs(t *testing.T) {
	c := newClinic(t)
	seen := 0
	for _, right := range Rights() {
		guest := &Person{ID: "S9", Name: "Inspector", Roles: Roles(), Pass: true}
		p := may(&Case{W: c.w, Now: c.now, Actor: Actor{Person: guest, Signed: true}}, right.Act)
		if right.Act == ActSecret || right.Act == ActExport || right.Act == ActPassUse {
			require.Nil(t, p, right.Act)
			continue
		}
		require.NotNil(t, p, right.Act)
		require.Equal(t, "read_only", p.Rule, right.Act)
		seen++
	}
	require.Greater(t, seen, 40)
	require.NotContains(t, mustRight(t, ActView).Roles, RoleAuditor)
}

func mustRight(t *testing.T, a Act) Right {
	r, ok := FindRight(a)
	require.True(t, ok)
	return r
}

func TestAPassIsEndedAtOnce(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	e := c.do(boss, IssuePass{Name: "Inspector", Until: c.now.Today().AddDays(5)})
	id := e.Events[0].Event.(PersonSet).ID
	guest := Actor{Person: c.w.People[id], Signed: true}
	c.refused("unknown", boss, EndPass{Person: "boss"})
	c.refused("unknown", boss, EndPass{Person: "S0"})
	c.do(boss, EndPass{Person: id})
	guest.Person = c.w.People[id]
	c.refused("left", guest, RecordExport{Format: "evidence", Scope: "all", Size: c.seq})
}
