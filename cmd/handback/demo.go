package main

import (
	"context"
	"crypto/rand"
	"encoding/binary"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"slices"
	"strings"
	"time"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/invent"
	"handback/reprocess/report"
	"handback/reprocess/sqlite"
	"handback/reprocess/web"
)

// demoSecret is everybody's secret in the demo, and only there: the people are invented.
const demoSecret = "moorland-bench"

func demoCommand() command {
	return command{
		name:  "demo",
		usage: "[--addr 127.0.0.1:8080] [--data DIR]",
		about: "the whole product with an invented clinic, to try it",
		run:   runDemo,
	}
}

func runDemo(ctx context.Context, args []string, s streams) (err error) {
	f := newFlags("demo")
	addr := f.String("addr", "127.0.0.1:8080", "address to listen on")
	dir := f.String("data", "", "data folder, kept; without it a temporary one")
	if _, err := f.parse(args, 0); err != nil {
		return err
	}
	if *dir == "" {
		if *dir, err = os.MkdirTemp("", "demo-"); err != nil {
			return fmt.Errorf("demo: no temporary folder can be made: %w", err)
		}
		defer os.RemoveAll(*dir)
	}
	// The address is taken first: one that is in use is not worth ten seconds of history.
	ln, err := net.Listen("tcp", *addr)
	if err != nil {
		return fmt.Errorf("demo: %s cannot be listened on, choose another --addr: %w", *addr, err)
	}
	defer ln.Close()
	return demo(ctx, s, *dir, ln)
}

func demo(ctx context.Context, s streams, dir string, ln net.Listener) (err error) {
	log := slog.New(slog.NewJSONHandler(s.err, &slog.HandlerOptions{Level: slog.LevelWarn}))
	store, err := sqlite.Open(dir, sqlite.Options{Clock: systemClock(), Site: "demo", Log: log})
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	label, err := inventOnce(ctx, store)
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	addresses := reachable(ln.Addr().(*net.TCPAddr))
	base, err := labels.ParseBase(addresses[0], true)
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	server, err := web.New(web.Config{Store: store, BaseURL: base, Demo: true, Plain: true, Log: log})
	if err != nil {
		return err
	}
	if err := demoLines(ctx, s, store, addresses, base.Address(label)); err != nil {
		return err
	}
	go keepCheckpoints(ctx, store, log)
	return serveUntil(ctx, server, ln)
}

// inventOnce fills an empty folder and gives the code of one label of a kit that came back.
// A folder that holds anything else than a demo is refused.
func inventOnce(ctx context.Context, store *sqlite.Store) (labels.Code, error) {
	w, err := store.SetUp(ctx)
	if err != nil {
		return "", err
	}
	switch {
	case len(w.People) == 0:
		return inventHistory(ctx, store)
	case !w.Settings.Demo:
		return "", errors.New("this folder holds a real clinic, not a demo: choose another --data")
	}
	return returnedLabel(ctx, store)
}

func inventHistory(ctx context.Context, store *sqlite.Store) (labels.Code, error) {
	var seed [8]byte
	rand.Read(seed[:])
	o := invent.Options{Now: store.Now().UTC, Seed: binary.LittleEndian.Uint64(seed[:]),
		Code:  func() string { c, _ := labels.NewCode(rand.Reader); return string(c) },
		Keep:  func(p invent.Paper) (string, int64, error) { return keepPaper(store, p) },
		Files: demoFiles{store}}
	plan, err := invent.History(o)
	if err != nil {
		return "", err
	}
	if err := store.KeepWearers(ctx, plan.Wearers); err != nil {
		return "", err
	}
	if _, err := store.DoMany(ctx, requests(plan)); err != nil {
		return "", err
	}
	for _, p := range plan.People {
		if err := store.GiveSecret(ctx, p.ID, demoSecret); err != nil {
			return "", err
		}
	}
	return labels.Code(plan.Label), nil
}

// keepPaper prints an invented paper and keeps it; the same paper gives the same bytes.
func keepPaper(store *sqlite.Store, p invent.Paper) (string, int64, error) {
	d := report.Document{Title: p.Title, Foot: p.Title}
	for i, page := range p.Pages {
		if i > 0 {
			d.Blocks = append(d.Blocks, report.Page{})
		}
		d.Blocks = append(d.Blocks, report.Heading(page[0]))
		for _, text := range page[1:] {
			d.Blocks = append(d.Blocks, report.Text(text))
		}
	}
	pdf, err := report.PDF(d, report.A4, time.Unix(0, 0))
	if err != nil {
		return "", 0, err
	}
	f, err := store.KeepDocument(pdf)
	return f.SHA256, f.Bytes, err
}

// requests turns the plan into what the store decides again, by the same rules.
func requests(plan invent.Plan) []sqlite.Request {
	var out []sqlite.Request
	for _, a := range plan.Acts {
		actor := reprocess.Console()
		if a.Person != nil {
			actor = reprocess.Actor{Person: a.Person, Signed: a.Signed}
		}
		now := a.Now
		out = append(out, sqlite.Request{Cmd: a.Cmd, Actor: actor, Now: &now})
	}
	return out
}

// returnedLabel finds the label of a kit that is back, in a demo that is opened again.
func returnedLabel(ctx context.Context, store *sqlite.Store) (labels.Code, error) {
	w, err := store.AllKits(ctx)
	if err != nil {
		return "", err
	}
	best := ""
	for id, k := range w.Kits {
		if best == "" || reprocess.KitState(k, w.Pieces) == reprocess.Returned {
			best = id
		}
	}
	if best == "" {
		return "", errors.New("this demo has no kits: choose another --data")
	}
	all, err := store.LabelsOf(ctx, w.Kits[best].Pieces[0])
	for _, l := range all {
		if l.Withdrawn == 0 {
			return labels.Code(l.Code), err
		}
	}
	return "", errors.Join(err, errors.New("this demo has no label in force: choose another --data"))
}

// reachable lists the addresses of the server: for a wildcard one per network of this machine,
// so that a phone in the same network can open it.
func reachable(a *net.TCPAddr) []string {
	if !a.IP.IsUnspecified() {
		return []string{"http://" + a.String()}
	}
	var out []string
	all, _ := net.InterfaceAddrs()
	for _, x := range all {
		if n, ok := x.(*net.IPNet); ok && n.IP.To4() != nil && !n.IP.IsLoopback() {
			out = append(out, fmt.Sprintf("http://%s:%d", n.IP, a.Port))
		}
	}
	return append(out, fmt.Sprintf("http://127.0.0.1:%d", a.Port))
}

// demoLines prints the address, one sign-in for each role, and one label.
func demoLines(ctx context.Context, s streams, store *sqlite.Store, addresses []string,
	label string) error {
	w, err := store.SetUp(ctx)
	if err != nil {
		return err
	}
	for _, a := range addresses {
		fmt.Fprintln(s.out, "open    ", a)
	}
	seen := map[reprocess.Role]bool{}
	for _, role := range reprocess.Roles() {
		for _, p := range sortedPeople(w) {
			if p.Has(role) && !seen[role] {
				seen[role] = true
				fmt.Fprintf(s.out, "sign in  %-18s name %-8s secret %s\n",
					reprocess.RoleWords(role), p.SignIn, demoSecret)
			}
		}
	}
	fmt.Fprintln(s.out, "label   ", label)
	_, err = fmt.Fprintln(s.out, "Everything here is invented. Not for real use: plain http, known secrets.")
	return err
}

// sortedPeople lists the staff with fewer roles first, so that each role shows its own person.
func sortedPeople(w *reprocess.World) []*reprocess.Person {
	var out []*reprocess.Person
	for _, p := range w.People {
		out = append(out, p)
	}
	slices.SortFunc(out, func(a, b *reprocess.Person) int {
		if d := len(a.Roles) - len(b.Roles); d != 0 {
			return d
		}
		return strings.Compare(a.ID, b.ID)
	})
	return out
}
