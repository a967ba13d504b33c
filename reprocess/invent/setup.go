package invent

import (
	"fmt"
	"time"

	"handback/reprocess"
)

// staff is the invented team; the first seven hold one role each.
var staff = []reprocess.Person{
	{Name: "Ada Lind", SignIn: "ada", Roles: []reprocess.Role{reprocess.RoleReprocessing}},
	{Name: "Rosa Quint", SignIn: "rosa", Roles: []reprocess.Role{reprocess.RoleRelease, reprocess.RoleReprocessing}},
	{Name: "Dario Moss", SignIn: "dario", Roles: []reprocess.Role{reprocess.RoleFrontDesk}},
	{Name: "Theo Falk", SignIn: "theo", Roles: []reprocess.Role{reprocess.RoleTechnician}},
	{Name: "Ines Varga", SignIn: "ines", Roles: []reprocess.Role{reprocess.RoleInfection}},
	{Name: "Owen Hale", SignIn: "owen", Roles: []reprocess.Role{reprocess.RoleAuditor}},
	{Name: "Sunniva Berg", SignIn: "sunniva", Roles: []reprocess.Role{reprocess.RoleSupervisor}},
	{Name: "Milo Rask", SignIn: "milo", Roles: []reprocess.Role{reprocess.RoleReprocessing, reprocess.RoleRelease}},
}

const (
	ada, rosa, dario, theo     = "ada", "rosa", "dario", "theo"
	ines, sunniva, milo        = "ines", "sunniva", "milo"
	modelA, modelB, modelPhone = "Recorder A", "Recorder B", "Phone P"
)

// who gives the id of a sign-in name.
func (s *sim) who(name string) string { return s.ids()[name] }

func (s *sim) setUp() {
	s.codes, s.phones = map[string]string{}, map[string]string{}
	s.do("", true, reprocess.SetSettings{Settings: reprocess.Settings{Site: "demo",
		Clinic: "Moorland Heart Watch (invented)", LabelLine: "Ring 555 0100",
		Contact: "555 0100", Hours: "Mon to Fri, 8 to 16", BenchCall: "Bench, ext. 214",
		Zone: "UTC", Demo: true}})
	for _, p := range staff {
		s.do("", true, reprocess.SetPerson{Person: p})
	}
	boss := s.who(sunniva)
	for _, m := range []reprocess.Model{
		{Name: modelA, Kind: reprocess.Recorder, CycleLimit: 150, WearDays: 14,
			IFU: "Recorder A instructions, version 4", Parts: []string{"charging cable", "case", "strap"},
			Cell: "LR03", CellCount: 1, CapacityMAh: 1000, CurrentUA: 2000, ElectrodeInterval: "3",
			PerSet: 3, UsualDays: 14},
		{Name: modelB, Kind: reprocess.Recorder, WearDays: 12,
			IFU: "Recorder B instructions, version 2", Parts: []string{"lead set", "case"},
			Cell: "PR44", CellCount: 1, CapacityMAh: 620, CurrentUA: 1200, ElectrodeInterval: "2",
			PerSet: 2, UsualDays: 7},
		{Name: modelPhone, Kind: reprocess.Phone, IFU: "Phone P instructions, version 7",
			Parts: []string{"charger"}},
	} {
		s.do(boss, false, reprocess.SetModel{Model: m})
	}
	for _, name := range []string{modelA, modelB, modelPhone} {
		s.after(time.Minute)
		s.do(boss, true, reprocess.ApproveProcedure{Procedure: s.procedure(name)})
	}
	s.do(boss, false, reprocess.SetCounter{Counter: reprocess.Counter{
		Privacy: "Data protection, ext. 300", Wards: []reprocess.Ward{
			{Name: "Ward 4", Ring: "ext. 2140"}, {Name: "Day clinic", Ring: "ext. 2200"}}}})
	s.technical(boss)
	s.competences(boss)
	s.products(boss)
	s.papers(boss)
	s.stock()
}

func (s *sim) model(name string) *reprocess.Model {
	for _, m := range s.w.Models {
		if m.Name == name {
			return m
		}
	}
	return &reprocess.Model{}
}

// minSeconds is the shortest plausible time of a step in this clinic, s.
var minSeconds = map[reprocess.StepID]int{reprocess.StepCleaning: 15, reprocess.StepDrying: 10,
	reprocess.StepInspection: 5, reprocess.StepFunction: 45}

func (s *sim) procedure(model string) reprocess.Procedure {
	m := s.model(model)
	p := reprocess.Procedure{Name: "Reprocessing of " + model, Model: m.ID, FloorS: 60,
		MinStrength: "70%v/v", MaxGapMin: 240, ReleaseDays: 90, IFU: m.IFU,
		PairScan: m.Kind == reprocess.Recorder, CellAtOut: model == modelB}
	if s.o.Keep != nil {
		p.IFU += ", " + handbookPage
	}
	for _, step := range reprocess.Steps() {
		if step.ID == reprocess.StepRelease || !has(step.For, m.Kind) {
			continue
		}
		row := reprocess.StepRow{Step: step.ID, MinS: minSeconds[step.ID],
			Override: step.Override && model == modelB}
		for _, a := range reprocess.Asks(step.ID, m.Kind) {
			if a.When == "" && !(a.ID == "old_cell" && model == modelB) {
				row.Asks = append(row.Asks, a.ID)
			}
		}
		p.Steps = append(p.Steps, row)
	}
	return p
}

func has[T comparable](list []T, v T) bool {
	for _, x := range list {
		if x == v {
			return true
		}
	}
	return false
}

// competences enters everybody who works at the bench, from the first day on.
func (s *sim) competences(boss string) {
	var rows []reprocess.Competence
	for _, name := range []string{modelA, modelB, modelPhone} {
		ref := s.w.Procedures[s.w.InForce[s.model(name).ID]]
		if ref != nil {
			rows = append(rows, reprocess.Competence{Procedure: ref.ID, From: s.date()})
		}
	}
	for _, name := range []string{ada, rosa, theo, ines, milo} {
		p := *s.w.People[s.who(name)]
		p.Competences = rows
		s.do(boss, false, reprocess.SetPerson{Person: p})
	}
}

func (s *sim) products(boss string) {
	all := []string{s.model(modelA).ID, s.model(modelB).ID, s.model(modelPhone).ID}
	claim := func(token string, seconds int) reprocess.Claim {
		return reprocess.Claim{Token: token, Seconds: seconds, Standard: "EN 16615", Soil: "clean"}
	}
	for _, p := range []reprocess.Product{
		{Name: "House wipe E70", Use: reprocess.SoakedWipe, OpenDays: 28, Models: all,
			Actives: []reprocess.Active{{Agent: "ethanol", Strength: "70%v/v"}},
			Claims:  []reprocess.Claim{claim("BAC", 60), claim("YEA", 60), claim("VIR-E", 30)}},
		{Name: "House wipe E80", Use: reprocess.SoakedWipe, OpenDays: 28, Models: all[:2],
			Actives: []reprocess.Active{{Agent: "ethanol", Strength: "80%v/v"}},
			Claims:  []reprocess.Claim{claim("BAC", 30), claim("YEA", 30), claim("VIR-L", 60)}},
		{Name: "Bottle I70", Use: reprocess.ReadyToUse, OpenDays: 90, Models: all[:2], Least: 2,
			Actives: []reprocess.Active{{Agent: "propan-2-ol", Strength: "70%v/v"}},
			Claims:  []reprocess.Claim{claim("BAC", 60), claim("YEA", 60)}},
		{Name: "Slow-drying wipe Q", Use: reprocess.SoakedWipe, OpenDays: 60, Models: all,
			Actives: []reprocess.Active{{Agent: "quat", Strength: "0.4 %"}},
			Claims:  []reprocess.Claim{claim("BAC", 120), claim("YEA", 120), claim("VIR-E", 120)}},
		{Name: "Oxidising wipe P", Use: reprocess.SoakedWipe, OpenDays: 30, Models: all[:1],
			Actives: []reprocess.Active{{Agent: "peracetic", Strength: "0.06 %"}},
			Claims: []reprocess.Claim{claim("BAC", 60), claim("FUN", 120), claim("MYC", 300),
				claim("VIR-F", 120), claim("SPO", 300)}},
	} {
		s.do(boss, false, reprocess.SetProduct{Product: p})
	}
}

func (s *sim) product(name string) string {
	for id, p := range s.w.Products {
		if p.Name == name {
			return id
		}
	}
	return ""
}

// stock takes in a fresh lot of wipes and of cells; of the lot before the last one nothing is
// left by then.
func (s *sim) stock() {
	bench := s.who(ada)
	if s.oldLot != "" {
		s.do(bench, false, reprocess.EndLot{Lot: s.oldLot})
	}
	s.oldLot = s.wipeLot
	e := s.do(bench, false, reprocess.SetLot{Lot: reprocess.Lot{Kind: reprocess.LotDisinfectant,
		Product: s.product("House wipe E70"), Number: fmt.Sprintf("E70-%04d", s.seq),
		Expiry: s.date().AddDays(400)}})
	s.wipeLot = lotID(e)
	if s.cells != "" {
		return // a carton of cells lasts this clinic for years
	}
	e = s.do(bench, false, reprocess.SetLot{Lot: reprocess.Lot{Kind: reprocess.LotCells,
		Name: "LR03", Number: fmt.Sprintf("C-%04d", s.seq), Expiry: s.date().AddDays(1500)}})
	s.cells = lotID(e)
	e = s.do(bench, false, reprocess.SetLot{Lot: reprocess.Lot{Kind: reprocess.LotCells,
		Name: "PR44", Number: fmt.Sprintf("Z-%04d", s.seq), Expiry: s.date().AddDays(1200)}})
	s.air = lotID(e)
}

func lotID(e *reprocess.Entry) string {
	if e != nil {
		for _, b := range e.Events {
			if v, ok := b.Event.(reprocess.LotSet); ok {
				return v.ID
			}
		}
	}
	return ""
}

// openWipes opens a new tub and closes the last one.
func (s *sim) openWipes() {
	bench := s.who(ada)
	if s.wipes != "" {
		s.do(bench, false, reprocess.CloseContainer{Container: s.wipes, Why: "empty"})
	}
	e := s.do(bench, false, reprocess.OpenContainer{Lot: s.wipeLot, Code: s.o.Code()})
	if e == nil {
		return
	}
	for _, b := range e.Events {
		if v, ok := b.Event.(reprocess.ContainerOpened); ok {
			s.wipes, s.used = v.ID, 0
		}
	}
}

// register adds the next kit, new from its maker.
func (s *sim) register() {
	n := len(s.kits) + 1
	model := s.model(modelA).ID
	if n%3 == 0 {
		model = s.model(modelB).ID
	}
	r := reprocess.RegisterKit{Number: fmt.Sprint(n), Place: "shelf A",
		Recorder: reprocess.NewPiece{Model: model, Serial: fmt.Sprintf("R%05d", 40_000+n*37),
			Code: s.o.Code()},
		Phone: &reprocess.NewPiece{Model: s.model(modelPhone).ID,
			Serial: fmt.Sprintf("F%05d", 70_000+n*53), Code: s.o.Code()}}
	e := s.do(s.who(sunniva), false, r)
	if e == nil {
		return
	}
	for _, b := range e.Events {
		if v, ok := b.Event.(reprocess.KitRegistered); ok {
			s.kits = append(s.kits, v.Kit.ID)
			s.codes[v.Kit.ID], s.phones[v.Kit.ID] = r.Recorder.Code, r.Phone.Code
			s.commissioned(v.Kit.ID)
		}
	}
}
