package web

import (
	"fmt"
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// peopleOf lists the staff by name, those who left last.
func peopleOf(w *reprocess.World, today reprocess.Date) []*reprocess.Person {
	var all []*reprocess.Person
	for _, p := range w.People {
		all = append(all, p)
	}
	key := func(p *reprocess.Person) string {
		if hasLeft(p, today) {
			return "2" + strings.ToLower(p.Name) + p.ID
		}
		return "1" + strings.ToLower(p.Name) + p.ID
	}
	slices.SortFunc(all, func(a, b *reprocess.Person) int { return strings.Compare(key(a), key(b)) })
	return all
}

func hasLeft(p *reprocess.Person, today reprocess.Date) bool { return p.Left != "" && p.Left < today }

func rolesWords(roles []reprocess.Role) string {
	var all []string
	for _, r := range roles {
		all = append(all, reprocess.RoleWords(r))
	}
	return strings.Join(all, ", ")
}

func showStaff(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	locked, err := v.Store().LockedOut(v.Context())
	if err != nil {
		return err
	}
	p := titledOffice("Who works here?")
	var waits []ruledLine
	for _, l := range locked {
		if who := w.People[l.Person]; who != nil {
			waits = append(waits, ruledLine{To: "/staff/" + who.ID, Words: who.Name,
				Notes: []string{lockedWords(v, l)}})
		}
	}
	if len(waits) > 0 {
		p.list("Locked out", "", waits...)
	}
	var rows, gone []ruledLine
	for _, who := range peopleOf(w, v.today()) {
		if who.Pass {
			continue // they stand on the page of passes
		}
		line := ruledLine{To: "/staff/" + who.ID, Words: who.Name,
			Notes: []string{rolesWords(who.Roles)}}
		switch {
		case hasLeft(who, v.today()):
			line.Notes = []string{"left on " + reprocess.Day(who.Left)}
			gone = append(gone, line)
			continue
		case w.Secrets[who.ID] == "":
			line.Notes = append(line.Notes, "has no secret yet: cannot sign in")
		}
		line.Notes = append(line.Notes, endingWords(w, who, v.today())...)
		rows = append(rows, line)
	}
	p.list("Here", "Nobody.", rows...)
	if len(gone) > 0 {
		p.list("Left", "", gone...)
	}
	p.act("/staff/new", "Add somebody")
	p.act("/phones", "Phones and stations")
	p.act("/passes", "Passes for inspectors")
	p.act("/competence", "Who may carry out which procedure")
	p.act("/staff/rights", "Who may do what")
	return v.Show(p)
}

func lockedWords(v *Visit, l sqlite.Locked) string {
	words := fmt.Sprintf("%d wrong secrets in a row", l.Failed)
	if l.Until > v.Now.UTC {
		words += ", has to wait until " + v.moment(l.Until)
	}
	return words
}

// roleNotes say what each role is for.
var roleNotes = map[reprocess.Role]string{
	reprocess.RoleReprocessing: "works at the bench", reprocess.RoleRelease: "releases kits",
	reprocess.RoleFrontDesk:  "hands out and takes back",
	reprocess.RoleTechnician: "ends a technician's wait, small repairs",
	reprocess.RoleInfection:  "decides on holds and stops",
	reprocess.RoleAuditor:    "reads and exports the record",
	reprocess.RoleSupervisor: "sets up kits, procedures, staff"}

func personForm(who reprocess.Person) *form {
	f := &form{To: "/staff/new", Act: "Add them"}
	if who.ID != "" {
		f.To, f.Act, f.Heading = "/staff/"+who.ID, "Keep this", "Who they are"
	}
	f.must("name", "Name", who.Name, "As it stands under everything they sign")
	short := TextField("sign_in", "Short name for signing in", who.SignIn)
	short.Required, short.Plain = true, true
	short.Hint = "2 to 20 of a to z, digits, dot, dash; never given to a second person"
	f.field(short)
	var roles []Choice
	for _, r := range reprocess.Roles() {
		words := reprocess.RoleWords(r)
		roles = append(roles, Choice{Value: string(r), Note: roleNotes[r],
			Words: strings.ToUpper(words[:1]) + words[1:]})
	}
	var picked []string
	for _, r := range who.Roles {
		picked = append(picked, string(r))
	}
	f.many("roles", "Roles", "", picked, roles...)
	if who.ID != "" {
		f.day("left", "Last day here", who.Left, "Empty: stays. Their signatures stand for ever")
	}
	return f
}

func showNewPerson(v *Visit) error { return v.Show(newPersonPage(reprocess.Person{})) }

func newPersonPage(who reprocess.Person) *officePage {
	p := titledOffice("Who is new here?",
		"They choose their own secret with a one-time code, which you get on their page.")
	p.form(personForm(who))
	return p
}

func (v *Visit) typedPerson() (reprocess.Person, error) {
	t := v.typing()
	who := reprocess.Person{Name: t.text("name"), SignIn: strings.ToLower(t.text("sign_in")),
		Left: t.day("left", "Last day")}
	for _, r := range v.Fields("roles") {
		who.Roles = append(who.Roles, reprocess.Role(r))
	}
	return who, t.err()
}

func addPerson(v *Visit) error {
	who, err := v.typedPerson()
	if err != nil {
		return v.Refuse(err, newPersonPage(who))
	}
	e, err := v.Do(reprocess.SetPerson{Person: who})
	if err != nil {
		return v.Refuse(err, newPersonPage(who))
	}
	to := "/staff"
	for _, box := range e.Events {
		if set, ok := box.Event.(reprocess.PersonSet); ok {
			to = "/staff/" + set.ID
		}
	}
	return v.Went(to, who.Name+" is added. Now a one-time code, then what they are competent for.")
}

func (v *Visit) person() (*reprocess.Person, *reprocess.World, error) {
	w, err := v.Store().Documents(v.Context())
	if err != nil {
		return nil, nil, err
	}
	who := w.People[v.Param("id")]
	if who == nil {
		return nil, nil, notFound("person")
	}
	return who, w, nil
}

func showPerson(v *Visit) error {
	who, w, err := v.person()
	if err != nil {
		return err
	}
	return v.Show(v.personPage(w, *who))
}

func (v *Visit) personPage(w *reprocess.World, who reprocess.Person) *officePage {
	p := titledOffice("What may " + who.Name + " do?")
	secret := "Has no secret yet"
	if w.Secrets[who.ID] != "" {
		secret = "Has a secret of their own"
	}
	p.list("", "", ruledLine{To: "/staff/" + who.ID + "/secret", Words: "One-time code for a secret",
		Notes: []string{secret}}, v.documentsLine(w, aboutPerson(who.ID)))
	p.list("Competent for", "Nothing yet.", competenceLines(v, w, &who)...)
	if f := signOffForm(w, &who, v); f != nil {
		p.form(f)
	}
	p.form(competenceForm(w, &who, v.today()))
	p.form(personForm(who))
	return p
}

func changePerson(v *Visit) error {
	old, w, err := v.person()
	if err != nil {
		return err
	}
	who, err := v.typedPerson()
	who.ID, who.Competences = old.ID, old.Competences
	if err != nil {
		return v.Refuse(err, v.personPage(w, who))
	}
	if _, err := v.Do(reprocess.SetPerson{Person: who}); err != nil {
		return v.Refuse(err, v.personPage(w, who))
	}
	return v.Went("/staff/"+who.ID, "Kept.")
}

func secretPageFor(who *reprocess.Person, phone string) *officePage {
	p := titledOffice("A one-time code for "+who.Name+"?",
		"Their secret until now ends at once, and every sign-in with it. With the code they choose "+
			"a new one; nobody else ever sees it.")
	f := &form{To: "/staff/" + who.ID + "/secret", Act: "Make the code"}
	f.text("phone", "Name for their phone", phone, "Only if the phone on which they use the code is "+
		"to become an enrolled one, such as Bench 2")
	f.field(SignField())
	p.form(f)
	return p
}

func showResetSecret(v *Visit) error {
	who, _, err := v.person()
	if err != nil {
		return err
	}
	return v.Show(secretPageFor(who, ""))
}

// resetSecret shows the code once, in the answer itself: it is kept nowhere.
func resetSecret(v *Visit) error {
	who, _, err := v.person()
	if err != nil {
		return err
	}
	page := secretPageFor(who, v.Field("phone"))
	actor, err := v.Sign()
	if err != nil {
		return v.Refuse(err, page)
	}
	code, err := v.Store().ResetSecret(v.Context(), sqlite.By{Actor: actor, Key: v.Key()}, who.ID,
		v.Field("phone"))
	if err != nil {
		return v.Refuse(err, page)
	}
	p := titledOffice("Give "+who.Name+" this code", "It is shown only now, and lasts a day.",
		"They open "+strings.ToLower(v.server.cfg.BaseURL.String())+"/secret/"+code)
	p.Code = code
	p.act("/staff/"+who.ID, "Done")
	return v.Show(p)
}

// showRights lists who may do what, from the table of rights.
func showRights(v *Visit) error {
	p := titledOffice("Who may do what?")
	var rows []ruledLine
	for _, r := range reprocess.Rights() {
		line := ruledLine{Words: strings.ToUpper(r.Words[:1]) + r.Words[1:],
			Notes: []string{rolesWords(r.Roles)}}
		if r.Signed {
			line.Notes = append(line.Notes, "signed: own secret again")
		}
		rows = append(rows, line)
	}
	p.list("", "", rows...)
	return v.Show(p)
}
