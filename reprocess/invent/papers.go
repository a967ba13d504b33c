package invent

import (
	"time"

	"handback/reprocess"
)

// Paper is an invented document: its pages as sentences, the first of each its heading.
type Paper struct {
	Title string
	Pages [][]string
}

// lead stands on every page of an invented paper.
const lead = "Invented for trying out. It is about no real device and no real product."

// papers adds the invented documents, where somebody keeps their files: the instructions of
// two models, one of them in two versions, a data sheet, and a course that runs out soon.
func (s *sim) papers(boss string) {
	if s.o.Keep == nil {
		return
	}
	recorder := []reprocess.Subject{{Kind: reprocess.OnModel, ID: s.model(modelA).ID}}
	e := s.add(boss, reprocess.DocInstructions, recorder, "3", handbook(modelA, "3"), "")
	if e != nil {
		s.after(time.Minute)
		s.do(boss, false, reprocess.RenewDocument{Document: e.Events[0].Event.(reprocess.DocumentAdded).ID,
			DocumentFile: s.file("4", handbook(modelA, "4"), "")})
	}
	s.add(boss, reprocess.DocInstructions, []reprocess.Subject{{Kind: reprocess.OnModel,
		ID: s.model(modelPhone).ID}}, "7", handbook(modelPhone, "7"), "")
	s.add(boss, reprocess.DocSheet, []reprocess.Subject{{Kind: reprocess.OnProduct,
		ID: s.product("House wipe E70")}}, "2", Paper{"House wipe E70, data sheet", [][]string{
		{"House wipe E70", "Soaked wipe with ethanol, 70 % v/v.", "Keep the surface wet for 60 s.",
			"Use the tub within 28 days after opening."}}}, "")
	s.add(boss, reprocess.DocCertificate, []reprocess.Subject{{Kind: reprocess.OnPerson,
		ID: s.who(ada)}}, "1", Paper{"Course on reprocessing", [][]string{{"Course on reprocessing",
		"Ada Lind took part on two days."}}}, reprocess.DateIn(s.o.Now, nil).AddDays(21))
}

func (s *sim) add(boss string, kind reprocess.DocumentKind, about []reprocess.Subject,
	edition string, p Paper, until reprocess.Date) *reprocess.Entry {
	return s.do(boss, false, reprocess.AddDocument{Kind: kind, Title: p.Title, About: about,
		DocumentFile: s.file(edition, p, until)})
}

// file keeps a paper and says of it what its title page says.
func (s *sim) file(edition string, p Paper, until reprocess.Date) reprocess.DocumentFile {
	for i := range p.Pages {
		p.Pages[i] = append(p.Pages[i], lead)
	}
	sha, size, err := s.o.Keep(p)
	if err != nil && s.err == nil {
		s.err = err
	}
	return reprocess.DocumentFile{Edition: edition, Dated: s.date(), Lang: "English", Until: until,
		SHA256: sha, Bytes: size}
}

// handbookPage is the page of the invented instructions that is about disinfection.
const handbookPage = "page 2"

func handbook(model, edition string) Paper {
	return Paper{model + " instructions", [][]string{
		{model + ", version " + edition, "What is in the box, and how it is worn."},
		{"Cleaning and disinfection", "Clean first: visibly clean, no water standing.",
			"Wipe with a product on the list and keep the surface wet for its whole contact time.",
			"Let it dry fully before the door is opened."},
		{"Function test", "Record for five minutes and look at the trace before it is given to anybody."}}}
}
