package main

import (
	"bytes"
	"context"
	"log/slog"
	"net"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/sqlite"
	"handback/reprocess/web"
)

// The clinic of the day in the browser: the real server on a free port over a real folder. Only
// the clock is ours, so that nobody waits for a contact time.

const (
	dayPIN      = "482913"               // of everybody who may have a PIN
	dayPassword = "copper pencil meadow" // of those who need more
)

// dayClock moves only when it is told to: Tuesday, 24 November 2026, 8:05 UTC.
type dayClock struct {
	mu sync.Mutex
	ms int64
}

var dayStart = time.Date(2026, 11, 24, 8, 5, 0, 0, time.UTC)

func (c *dayClock) Now() reprocess.Now {
	c.mu.Lock()
	defer c.mu.Unlock()
	return reprocess.Now{UTC: reprocess.InstantOf(dayStart) + reprocess.Instant(c.ms), Boot: "day",
		Mono: c.ms}
}

func (c *dayClock) step(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.ms += d.Milliseconds()
}

// dayClinic has two kits that are out, one wipe, one box of cells and people who know how.
type dayClinic struct {
	t          testing.TB
	clock      *dayClock
	store      *sqlite.Store
	dir, addr  string
	line       *cutLine
	boss       reprocess.Actor
	model      []string // recorder, phone
	procedures []string
	kits       map[string]string // ids by number
	staff      map[string]string // ids by short name
	tub, lot   string
	phones     int
	stop       func()
}

func newDay(t testing.TB) *dayClinic {
	t.Helper()
	c := &dayClinic{t: t, clock: &dayClock{}, dir: filepath.Join(t.TempDir(), "data"),
		kits: map[string]string{}}
	c.open()
	c.people()
	c.supplies()
	c.out("17")
	c.out("18")
	return c
}

// open starts what serve starts: store and server, on a port that is free.
func (c *dayClinic) open() {
	store, err := sqlite.Open(c.dir, sqlite.Options{Clock: c.clock.Now, Site: "Main building",
		HashKiB: 64})
	require.NoError(c.t, err)
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(c.t, err)
	c.store, c.addr, c.line = store, ln.Addr().String(), &cutLine{Listener: ln}
	base, err := labels.ParseBase("http://"+c.addr, true)
	require.NoError(c.t, err)
	log := new(bytes.Buffer)
	server, err := web.New(web.Config{Store: store, BaseURL: base, Plain: true,
		Log: slog.New(slog.NewJSONHandler(log, &slog.HandlerOptions{Level: slog.LevelError}))})
	require.NoError(c.t, err)
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(c.line) }()
	c.stop = sync.OnceFunc(func() {
		require.NoError(c.t, server.Shutdown(context.Background()))
		require.NoError(c.t, <-ended)
		require.NoError(c.t, store.Close())
		require.Empty(c.t, log.String(), "what the server logged as errors")
	})
	c.t.Cleanup(c.stop)
}

// cutLine is a network that can lose answers: what was asked arrives, what is answered does not.
type cutLine struct {
	net.Listener
	mu  sync.Mutex
	cut bool
}

func (l *cutLine) lose(on bool) { l.mu.Lock(); l.cut = on; l.mu.Unlock() }

func (l *cutLine) loses() bool { l.mu.Lock(); defer l.mu.Unlock(); return l.cut }

func (l *cutLine) Accept() (net.Conn, error) {
	conn, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	return &cutConn{conn, l}, nil
}

type cutConn struct {
	net.Conn
	line *cutLine
}

func (c *cutConn) Write(b []byte) (int, error) {
	if c.line.loses() {
		_ = c.Close()
		return 0, net.ErrClosed
	}
	return c.Conn.Write(b)
}

// must does a command by the supervisor, signed.
func (c *dayClinic) must(cmd reprocess.Command) *reprocess.Entry {
	c.t.Helper()
	e, err := c.store.Do(c.t.Context(), sqlite.Request{Actor: c.boss, Cmd: cmd})
	require.NoError(c.t, err, "%T", cmd)
	return e
}

// people adds the staff; the first is set up from the console, as the demo does it.
func (c *dayClinic) people() {
	c.boss = reprocess.Console()
	c.must(reprocess.SetSettings{Settings: reprocess.Settings{Site: "Main building", Zone: "UTC",
		Clinic: "Moorland Heart Watch (invented)", LabelLine: "Ring 555 0100", Contact: "555 0100",
		Hours: "Mon to Fri, 8 to 16", BenchCall: "Bench, ext. 214"}})
	sunniva := reprocess.Person{Name: "Sunniva Berg", SignIn: "sunniva",
		Roles: []reprocess.Role{reprocess.RoleSupervisor}}
	sunniva.ID = c.person(sunniva, dayPassword)
	c.boss = reprocess.Actor{Person: &sunniva, Signed: true}
	c.models()
	var can []reprocess.Competence
	for _, id := range c.procedures {
		can = append(can, reprocess.Competence{Procedure: id, From: "2026-01-01"})
	}
	c.person(reprocess.Person{Name: "Dario Moss", SignIn: "dario",
		Roles: []reprocess.Role{reprocess.RoleFrontDesk}}, dayPIN)
	c.person(reprocess.Person{Name: "Ada Lind", SignIn: "ada", Competences: can,
		Roles: []reprocess.Role{reprocess.RoleReprocessing, reprocess.RoleRelease}}, dayPassword)
	c.person(reprocess.Person{Name: "Milo Rask", SignIn: "milo", Competences: can,
		Roles: []reprocess.Role{reprocess.RoleReprocessing}}, dayPIN)
	c.person(reprocess.Person{Name: "Owen Hale", SignIn: "owen",
		Roles: []reprocess.Role{reprocess.RoleAuditor}}, dayPassword)
}

func (c *dayClinic) person(p reprocess.Person, secret string) string {
	c.t.Helper()
	id := c.must(reprocess.SetPerson{Person: p}).Events[0].Event.(reprocess.PersonSet).ID
	require.NoError(c.t, c.store.GiveSecret(c.t.Context(), id, secret))
	if c.staff == nil {
		c.staff = map[string]string{}
	}
	c.staff[p.SignIn] = id
	return id
}

// models describes a recorder and a phone, each with a procedure that asks every step.
func (c *dayClinic) models() {
	parts := map[reprocess.Kind][]string{reprocess.Recorder: {"charging cable", "case"},
		reprocess.Phone: {"charger"}}
	for _, kind := range reprocess.Kinds() {
		m := c.must(reprocess.SetModel{Model: reprocess.Model{Name: "Model " + string(kind), Kind: kind,
			WearDays: 14, Parts: parts[kind], IFU: "booklet, 2nd edition"}}).
			Events[0].Event.(reprocess.ModelSet).ID
		p := c.must(reprocess.ApproveProcedure{Procedure: everyStep(m, kind)}).
			Events[0].Event.(reprocess.ProcedureApproved).ID
		c.model, c.procedures = append(c.model, m), append(c.procedures, p)
	}
}

// everyStep is a procedure that wants every step and every usual answer.
func everyStep(model string, kind reprocess.Kind) reprocess.Procedure {
	p := reprocess.Procedure{Name: "Everyday, " + string(kind), Model: model, FloorS: 60,
		MinStrength: "70%v/v", MaxGapMin: 120, ReleaseDays: 30, IFU: "booklet, 2nd edition"}
	for _, step := range reprocess.Steps() {
		if step.ID == reprocess.StepRelease || !has(step.For, kind) {
			continue
		}
		row := reprocess.StepRow{Step: step.ID}
		for _, a := range reprocess.Asks(step.ID, kind) {
			if a.When == "" {
				row.Asks = append(row.Asks, a.ID)
			}
		}
		p.Steps = append(p.Steps, row)
	}
	return p
}

func has(kinds []reprocess.Kind, kind reprocess.Kind) bool {
	for _, k := range kinds {
		if k == kind {
			return true
		}
	}
	return false
}

// supplies opens one tub of wipes and one box of cells.
func (c *dayClinic) supplies() {
	product := c.must(reprocess.SetProduct{Product: reprocess.Product{Name: "Bench wipe",
		Use: reprocess.SoakedWipe, OpenDays: 28, Models: c.model,
		Actives: []reprocess.Active{{Agent: "ethanol", Strength: "70%v/v"}},
		Claims:  []reprocess.Claim{{Token: "BAC", Seconds: 60}, {Token: "YEA", Seconds: 60}}}}).
		Events[0].Event.(reprocess.ProductSet).ID
	lot := c.must(reprocess.SetLot{Lot: reprocess.Lot{Kind: reprocess.LotDisinfectant,
		Product: product, Number: "W-77", Expiry: "2027-12-31"}}).Events[0].Event.(reprocess.LotSet).ID
	c.lot = lot
	c.tub = c.must(reprocess.OpenContainer{Lot: lot}).Events[0].Event.(reprocess.ContainerOpened).ID
	c.must(reprocess.SetLot{Lot: reprocess.Lot{Kind: reprocess.LotCells, Name: "LR03",
		Expiry: "2029-01-31"}})
}

// out takes a kit over that is with a wearer; it has no labels yet.
func (c *dayClinic) out(number string) {
	c.t.Helper()
	wearer, err := c.store.WearerToken(c.t.Context(), "A-10"+number)
	require.NoError(c.t, err)
	c.kits[number] = c.must(reprocess.RegisterKit{Number: number,
		Recorder: reprocess.NewPiece{Model: c.model[0], Serial: "R-00" + number},
		Phone:    &reprocess.NewPiece{Model: c.model[1], Serial: "F-00" + number},
		Opening: &reprocess.Opening{Out: "2026-11-10", Due: "2026-11-24", Days: 14,
			Wearer: wearer}}).Events[0].Event.(reprocess.KitRegistered).Kit.ID
}

// entries lists what was done to a kit, the newest first.
func (c *dayClinic) entries(number string, act reprocess.Act) []*reprocess.Entry {
	c.t.Helper()
	all, err := c.store.Entries(c.t.Context(), sqlite.Filter{Kit: c.kits[number], Act: act,
		Result: reprocess.ResultDone}, 0, 100)
	require.NoError(c.t, err)
	return all
}
