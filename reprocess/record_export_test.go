package reprocess

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Source: common practice of audit trails (taking a copy away is an act of its own).
func TestTakingTheRecordAwayIsAnEntry(t *testing.T) {
	c := newClinic(t)
	gil := Actor{Person: &Person{ID: "S90", Name: "Gil", Roles: []Role{RoleAuditor}}}
	c.w.People["S90"] = gil.Person
	r := RecordExport{Format: "csv", Table: "entries", Scope: "everything", Size: 1}
	before := len(c.w.Kits)
	e := c.do(gil, r)
	require.Equal(t, []Box{{Exported{Format: "csv", Table: "entries", Scope: "everything",
		Size: 1}}}, e.Events)
	require.Len(t, c.w.Kits, before)
	for _, format := range exportKinds {
		r.Format = format
		c.do(gil, r)
	}
	bad := r
	bad.Format = "doc"
	c.refused("format", gil, bad)
	for _, role := range []Role{RoleInfection, RoleRelease, RoleFrontDesk, RoleTechnician,
		RoleReprocessing} {
		gil.Person.Roles = []Role{role}
		c.refused("role", gil, r)
	}
	gil.Person.Roles = []Role{RoleSupervisor}
	c.do(gil, r)
}

// The scope is one to 500 signs; the size is at least 1 and below the number of the entry.
func TestBoundsOfAnExport(t *testing.T) {
	c := newClinic(t)
	gil := Actor{Person: &Person{ID: "S90", Name: "Gil", Roles: []Role{RoleAuditor}}}
	decide := func(r RecordExport, seq int64) *Problem {
		_, p := Decide(c.w, r, gil, c.now, seq)
		return p
	}
	r := RecordExport{Format: "ndjson", Scope: strings.Repeat("ä", 500), Size: 9}
	require.Nil(t, decide(r, 10))
	require.Equal(t, "size", decide(r, 9).Rule)
	r.Size = 0
	require.Equal(t, "size", decide(r, 10).Rule)
	r.Size, r.Scope = 1, strings.Repeat("ä", 501)
	require.NotNil(t, decide(r, 10))
	r.Scope = "  "
	require.NotNil(t, decide(r, 10))
}
