package reprocess

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const testMAC = "00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff"

// staffWorld holds two supervisors' worth of trouble: Maria supervises, Ida cleans, Bo left.
func staffWorld() *World {
	w := NewWorld()
	for _, p := range []Person{
		{ID: "S1", Name: "Maria", SignIn: "maria", Roles: []Role{RoleSupervisor}},
		{ID: "S5", Name: "Ida", SignIn: "ida", Roles: []Role{RoleReprocessing}},
		{ID: "S6", Name: "Bo", SignIn: "bo", Roles: []Role{RoleSupervisor}, Left: "2026-11-01"},
	} {
		w.People[p.ID] = &p
	}
	w.Procedures["P3@2"] = &Procedure{ID: "P3", Version: 2}
	w.Phones["T1"] = &EnrolledPhone{ID: "T1", Name: "Bench 1", At: 1}
	w.Phones["T2"] = &EnrolledPhone{ID: "T2", Name: "Old", At: 1, Revoked: staffNow.UTC}
	return w
}

var staffNow = Now{UTC: 1795600000000} // 2026-11-25

func asPerson(w *World, id string) Actor { return Actor{Person: w.People[id]} }

// decideStaff runs a command and folds what it led to, as the store does.
func decideStaff(t testing.TB, w *World, a Actor, cmd Command, seq int64) ([]Event, *Problem) {
	t.Helper()
	events, p := Decide(w, cmd, a, staffNow, seq)
	if p != nil {
		require.Empty(t, events)
		require.NotEmpty(t, p.Text)
		require.NotEmpty(t, p.Fix)
		return nil, p
	}
	e := &Entry{Seq: seq, At: staffNow.UTC, Result: ResultDone, By: a.Person.ID}
	for _, ev := range events {
		e.Events = append(e.Events, Box{ev})
	}
	Apply(w, e)
	return events, nil
}

func ruleOf(p *Problem) string {
	if p == nil {
		return ""
	}
	return p.Rule
}

func TestFirstSupervisor(t *testing.T) {
	good := FirstSupervisor{Name: " Maria  Castellano ", SignIn: "maria", MAC: testMAC,
		Phone: "T7K", PhoneName: "Office"}
	w := NewWorld()
	events, p := decideStaff(t, w, Console(), good, 3)
	require.Nil(t, p)
	require.Equal(t, []Event{
		PersonSet{Person{ID: "S1", Name: "Maria Castellano", SignIn: "maria",
			Roles: []Role{RoleSupervisor}}},
		SecretSet{Person: "S1", MAC: testMAC}, PhoneEnrolled{"T7K", "Office"}}, events)
	require.Equal(t, testMAC, w.Secrets[FirstSupervisorID])
	require.NotNil(t, w.Phones["T7K"])

	_, p = decideStaff(t, w, Console(), good, 4)
	require.Equal(t, "set_up_already", ruleOf(p))

	for rule, edit := range map[string]func(*FirstSupervisor){
		"empty":   func(f *FirstSupervisor) { f.Name = " " },
		"sign_in": func(f *FirstSupervisor) { f.SignIn = "Maria" },
		"mac":     func(f *FirstSupervisor) { f.MAC = "" },
		"phone":   func(f *FirstSupervisor) { f.Phone = "" },
	} {
		bad := good
		edit(&bad)
		_, p := decideStaff(t, NewWorld(), Console(), bad, 1)
		require.Equal(t, rule, ruleOf(p))
	}
}

// Somebody signed in can never be the first: only the console sets up.
func TestFirstSupervisorNeedsTheConsole(t *testing.T) {
	a := Actor{Person: &Person{ID: "S9", Name: "X", Roles: []Role{RoleSupervisor}}}
	_, p := decideStaff(t, NewWorld(), a, FirstSupervisor{Name: "X", SignIn: "xx", MAC: testMAC,
		Phone: "T1", PhoneName: "P"}, 1)
	require.Equal(t, "console", ruleOf(p))
	require.Equal(t, Forbidden, p.Code)
}

func TestSetPersonAddsAndChanges(t *testing.T) {
	w := staffWorld()
	events, p := decideStaff(t, w, asPerson(w, "S1"), SetPerson{Person{Name: "Ola", SignIn: "ola",
		Roles:       []Role{RoleRelease, RoleFrontDesk, RoleRelease},
		Competences: []Competence{{Procedure: "P3", From: "2026-11-25", Until: "2026-11-25"}}}}, 41)
	require.Nil(t, p)
	require.Len(t, events, 1)
	require.Equal(t, []Role{RoleRelease, RoleFrontDesk}, w.People["S41"].Roles)
	require.Equal(t, Competent, w.People["S41"].Competence("P3", "2026-11-25"))

	ola := *w.People["S41"]
	ola.Left = "2026-11-25"
	_, p = decideStaff(t, w, asPerson(w, "S1"), SetPerson{ola}, 42)
	require.Nil(t, p)
	require.Equal(t, Date("2026-11-25"), w.People["S41"].Left)
}

func TestSetPersonBoundaries(t *testing.T) {
	row := func(edit func(*Competence)) []Competence {
		c := Competence{Procedure: "P3", From: "2026-01-01", Until: "2026-12-31"}
		edit(&c)
		return []Competence{c}
	}
	for _, c := range []struct {
		about, rule string
		edit        func(*Person)
	}{
		{"as it is", "", func(*Person) {}},
		{"unknown id", "unknown", func(p *Person) { p.ID = "S99" }},
		{"console's id", "unknown", func(p *Person) { p.ID = ConsoleID }},
		{"no name", "empty", func(p *Person) { p.Name = "\t " }},
		{"80 letters", "", func(p *Person) { p.Name = strings.Repeat("ø", 80) }},
		{"81 letters", "text", func(p *Person) { p.Name = strings.Repeat("ø", 81) }},
		{"control", "text", func(p *Person) { p.Name = "O\x00la" }},
		{"1 letter", "sign_in", func(p *Person) { p.SignIn = "o" }},
		{"2 letters", "", func(p *Person) { p.SignIn = "o1" }},
		{"20 letters", "", func(p *Person) { p.SignIn = strings.Repeat("o", 20) }},
		{"21 letters", "sign_in", func(p *Person) { p.SignIn = strings.Repeat("o", 21) }},
		{"dot and dash", "", func(p *Person) { p.SignIn = "o.la-2" }},
		{"capital", "sign_in", func(p *Person) { p.SignIn = "oLa" }},
		{"space inside", "sign_in", func(p *Person) { p.SignIn = "o la" }},
		{"foreign letter", "sign_in", func(p *Person) { p.SignIn = "ølaf" }},
		{"taken", "sign_in_taken", func(p *Person) { p.SignIn = "ida" }},
		{"of one who left", "sign_in_taken", func(p *Person) { p.SignIn = "bo" }},
		{"own name again", "", func(p *Person) { p.ID, p.SignIn = "S5", "ida" }},
		{"no role", "role", func(p *Person) { p.Roles = nil }},
		{"odd role", "role", func(p *Person) { p.Roles = []Role{RoleRelease, "king"} }},
		{"odd day", "date", func(p *Person) { p.Left = "2026-02-30" }},
		{"competent", "", func(p *Person) { p.Competences = row(func(*Competence) {}) }},
		{"one day", "", func(p *Person) {
			p.Competences = row(func(c *Competence) { c.Until = c.From })
		}},
		{"ends before", "date", func(p *Person) {
			p.Competences = row(func(c *Competence) { c.Until = "2025-12-31" })
		}},
		{"no start", "date", func(p *Person) {
			p.Competences = row(func(c *Competence) { c.From = "" })
		}},
		{"open end", "", func(p *Person) {
			p.Competences = row(func(c *Competence) { c.Until = "" })
		}},
		{"odd end", "date", func(p *Person) {
			p.Competences = row(func(c *Competence) { c.Until = "soon" })
		}},
		{"unknown procedure", "unknown", func(p *Person) {
			p.Competences = row(func(c *Competence) { c.Procedure = "P3@2" })
		}},
	} {
		w := staffWorld()
		person := Person{Name: "Ola", SignIn: "ola", Roles: []Role{RoleRelease}}
		c.edit(&person)
		_, p := decideStaff(t, w, asPerson(w, "S1"), SetPerson{person}, 41)
		require.Equal(t, c.rule, ruleOf(p), c.about)
	}
}

func TestTheLastSupervisorStays(t *testing.T) {
	w := staffWorld()
	maria := *w.People["S1"]
	for _, edit := range []func(*Person){
		func(p *Person) { p.Roles = []Role{RoleRelease} },
		func(p *Person) { p.Left = "2026-11-25" },
		func(p *Person) { p.Left = "2099-01-01" },
	} {
		changed := maria
		edit(&changed)
		for _, by := range []Actor{asPerson(w, "S1"), Console()} {
			_, p := decideStaff(t, w, by, SetPerson{changed}, 41)
			require.Equal(t, "last_supervisor", ruleOf(p))
		}
	}
	ida := *w.People["S5"]
	ida.Roles = []Role{RoleSupervisor}
	_, p := decideStaff(t, w, asPerson(w, "S1"), SetPerson{ida}, 42)
	require.Nil(t, p)
	maria.Left = "2026-11-24"
	_, p = decideStaff(t, w, asPerson(w, "S5"), SetPerson{maria}, 43)
	require.Nil(t, p, "with a second supervisor the first may go")
}

func TestASecretIsItsOwnersAlone(t *testing.T) {
	for _, c := range []struct {
		about, by, of, mac, had, rule string
	}{
		{"own", "S5", "S5", testMAC, "", ""},
		{"own again", "S5", "S5", testMAC, testMAC, ""},
		{"a supervisor's try", "S1", "S5", testMAC, "", "own_secret"},
		{"somebody's try", "S5", "S1", testMAC, "", "own_secret"},
		{"first by console", ConsoleID, "S5", testMAC, "", ""},
		{"second by console", ConsoleID, "S5", testMAC, testMAC, "own_secret"},
		{"nobody's", "S5", "S77", testMAC, "", "unknown"},
		{"left, by console", ConsoleID, "S6", testMAC, "", "left"},
		{"left, own", "S6", "S6", testMAC, "", "left"},
		{"short", "S5", "S5", testMAC[1:], "", "mac"},
		{"long", "S5", "S5", testMAC + "0", "", "mac"},
		{"capital", "S5", "S5", "A" + testMAC[1:], "", "mac"},
		{"empty", "S5", "S5", "", "", "mac"},
	} {
		w := staffWorld()
		w.Secrets[c.of] = c.had
		by := asPerson(w, c.by)
		if c.by == ConsoleID {
			by = Console()
		}
		_, p := decideStaff(t, w, by, SetSecret{Person: c.of, MAC: c.mac}, 41)
		require.Equal(t, c.rule, ruleOf(p), c.about)
		if c.rule == "" {
			require.Equal(t, c.mac, w.Secrets[c.of])
		}
	}
}

func TestResetSecret(t *testing.T) {
	for _, c := range []struct {
		by, of, rule string
		unsigned     bool
	}{
		{by: "S1", of: "S5"}, {by: ConsoleID, of: "S1"}, {by: "S5", of: "S1", rule: "role"},
		{by: "S1", of: "S1", rule: "own_reset"}, {by: "S1", of: "S77", rule: "unknown"},
		{by: "S1", of: "S6", rule: "left"}, {by: "S1", of: "S5", rule: "signature", unsigned: true},
		{by: "S5", of: "S1", rule: "role", unsigned: true},
	} {
		w := staffWorld()
		w.Secrets[c.of] = testMAC
		by := asPerson(w, c.by)
		by.Signed = !c.unsigned
		if c.by == ConsoleID {
			by = Console()
		}
		_, p := decideStaff(t, w, by, ResetSecret{Person: c.of}, 41)
		require.Equal(t, c.rule, ruleOf(p))
		require.Equal(t, c.rule == "", w.Secrets[c.of] == "")
	}
}

func TestResetSecretWithPhone(t *testing.T) {
	for _, c := range []struct{ phone, name, rule string }{
		{"T7", "Ida's phone", ""}, {"T7", "", "empty"}, {"", "Ida's phone", "phone"},
		{"T1", "Ida's phone", "phone_known"}, {"T7", "Bench 1", "phone_name"},
	} {
		w := staffWorld()
		w.Secrets["S5"] = testMAC
		by := asPerson(w, "S1")
		by.Signed = true
		events, p := decideStaff(t, w, by, ResetSecret{"S5", c.phone, c.name}, 41)
		require.Equal(t, c.rule, ruleOf(p), c)
		if c.rule == "" {
			require.Equal(t, []Event{SecretSet{Person: "S5"}, PhoneEnrolled{c.phone, c.name}}, events)
		} else {
			require.Equal(t, testMAC, w.Secrets["S5"], "all or nothing")
		}
	}
}

func TestEnrolPhone(t *testing.T) {
	for _, c := range []struct{ by, id, name, rule string }{
		{"S1", "T7K2M", "Bench 2", ""},
		{"S1", "T7K2M", "Old", ""}, // the name of an ended phone is free
		{"S1", "T7K2M", " bench  1", "phone_name"},
		{"S1", "T1", "Bench 2", "phone_known"},
		{"S1", "T2", "Bench 2", "phone_known"}, // an ended phone never comes back
		{"S1", "T", "Bench 2", "phone"},
		{"S1", "t7", "Bench 2", "phone"},
		{"S1", "T" + strings.Repeat("7", 19), "Bench 2", ""},
		{"S1", "T" + strings.Repeat("7", 20), "Bench 2", "phone"},
		{"S1", "T7", "", "empty"},
		{"S1", "T7", strings.Repeat("b", 40), ""},
		{"S1", "T7", strings.Repeat("b", 41), "text"},
		{"S5", "T7", "Bench 2", "role"},
		{"S6", "T7", "Bench 2", "left"},
	} {
		w := staffWorld()
		_, p := decideStaff(t, w, asPerson(w, c.by), EnrolPhone{c.id, c.name}, 41)
		require.Equal(t, c.rule, ruleOf(p), c)
		if c.rule == "" {
			require.Equal(t, staffNow.UTC, w.Phones[c.id].At)
		}
	}
}

func TestRevokePhone(t *testing.T) {
	for _, c := range []struct{ by, id, reason, rule string }{
		{"S1", "T1", "lost", ""}, {"S5", "T1", "lost", "role"}, {"S1", "T9", "lost", "unknown"},
		{"S1", "T2", "lost", "phone_ended"}, {"S1", "T1", " ", "empty"},
		{"S1", "T1", strings.Repeat("l", 200), ""},
		{"S1", "T1", strings.Repeat("l", 201), "text"},
	} {
		w := staffWorld()
		_, p := decideStaff(t, w, asPerson(w, c.by), RevokePhone{c.id, c.reason}, 41)
		require.Equal(t, c.rule, ruleOf(p), c)
		if c.rule == "" {
			require.Equal(t, staffNow.UTC, w.Phones["T1"].Revoked)
		}
	}
}
