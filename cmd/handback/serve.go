package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/netip"
	"time"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/sqlite"
	"handback/reprocess/web"
)

// plainWords are what somebody has to type to serve a network without TLS.
const plainWords = "I accept"

func serveCommand() command {
	return command{
		name: "serve",
		usage: "--data DIR [--addr 127.0.0.1:8443] [--base-url https://NAME] " +
			"[--tls-cert FILE --tls-key FILE] [--plain-http 'I accept']",
		about: "the server, for real use",
		run:   runServe,
	}
}

// serveFlags is what the command line of serve says.
type serveFlags struct {
	data, addr, base, cert, key, plain string
}

func runServe(ctx context.Context, args []string, s streams) error {
	f := newFlags("serve")
	var o serveFlags
	f.StringVar(&o.data, "data", "", "data folder")
	f.StringVar(&o.addr, "addr", "127.0.0.1:8443", "address to listen on")
	f.StringVar(&o.base, "base-url", "", "scheme and host as printed on labels")
	f.StringVar(&o.cert, "tls-cert", "", "certificate file")
	f.StringVar(&o.key, "tls-key", "", "key file of the certificate")
	f.StringVar(&o.plain, "plain-http", "", "the words that allow a network without TLS")
	if _, err := f.parse(args, 0); err != nil {
		return err
	}
	if err := f.demand("data"); err != nil {
		return err
	}
	if err := o.check(); err != nil {
		return fmt.Errorf("serve: %w", err)
	}
	return o.serve(ctx, s)
}

func (o serveFlags) tls() bool { return o.cert != "" || o.key != "" }

// check refuses what would travel unprotected without somebody having said so.
func (o serveFlags) check() error {
	switch {
	case o.plain != "" && o.plain != plainWords:
		return fmt.Errorf("--plain-http takes the words '%s', not %q", plainWords, o.plain)
	case (o.cert == "") != (o.key == ""):
		return errors.New("--tls-cert and --tls-key belong together: give both or none")
	case o.tls() && o.plain != "":
		return errors.New("--plain-http and a certificate exclude each other: leave one away")
	case !o.tls() && o.plain == "" && !loopback(o.addr):
		return fmt.Errorf("%s can be reached from other machines: give --tls-cert and --tls-key, "+
			"or say --plain-http '%s' if everything may travel unprotected", o.addr, plainWords)
	}
	return nil
}

// loopback tells whether only this machine can reach an address.
func loopback(addr string) bool {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return false
	}
	ip, err := netip.ParseAddr(host)
	return host == "localhost" || err == nil && ip.IsLoopback()
}

// serve opens the folder, answers until ctx ends, and closes in order.
func (o serveFlags) serve(ctx context.Context, s streams) (err error) {
	log := slog.New(slog.NewJSONHandler(s.err, nil))
	ln, err := o.listen()
	if err != nil {
		return fmt.Errorf("serve: %w", err)
	}
	defer ln.Close()
	base, err := o.baseURL(ln.Addr().String())
	if err != nil {
		return fmt.Errorf("serve: %w", err)
	}
	store, err := sqlite.Open(o.data, sqlite.Options{Clock: systemClock(), Log: log})
	if err != nil {
		return fmt.Errorf("serve: %w", err)
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	server, err := web.New(web.Config{Store: store, BaseURL: base, Plain: !o.tls(), Log: log})
	if err != nil {
		return err
	}
	if err := greet(ctx, s, store, o.address(ln.Addr().String())); err != nil {
		return err
	}
	go keepCheckpoints(ctx, store, log)
	go removeFiles(ctx, store, log)
	return serveUntil(ctx, server, ln)
}

// listen opens the address, with TLS 1.2 or later when there is a certificate.
func (o serveFlags) listen() (net.Listener, error) {
	ln, err := net.Listen("tcp", o.addr)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be listened on: %w", o.addr, err)
	}
	if !o.tls() {
		return ln, nil
	}
	cert, err := tls.LoadX509KeyPair(o.cert, o.key)
	if err != nil {
		ln.Close()
		return nil, fmt.Errorf("certificate and key cannot be used: %w", err)
	}
	return tls.NewListener(ln, &tls.Config{Certificates: []tls.Certificate{cert},
		MinVersion: tls.VersionTLS12}), nil
}

// address is where this machine reaches the server.
func (o serveFlags) address(addr string) string {
	if o.tls() {
		return "https://" + addr
	}
	return "http://" + addr
}

// baseURL is what labels carry: as told, or this address while only this machine is served.
func (o serveFlags) baseURL(addr string) (labels.Base, error) {
	if o.base != "" {
		return labels.ParseBase(o.base, !o.tls())
	}
	if o.tls() || !loopback(o.addr) {
		return labels.Base{}, errors.New("--base-url is missing: labels carry it for years, " +
			"so it is never guessed; write it like https://label.clinic.example")
	}
	return labels.ParseBase("http://"+addr, true)
}

// greet prints the address and, while nobody is there yet, the link for the first supervisor.
func greet(ctx context.Context, s streams, store *sqlite.Store, address string) error {
	fmt.Fprintln(s.out, "listening on", address)
	code, err := store.FirstCode(ctx)
	switch p := reprocess.AsProblem(err); {
	case p != nil && p.Rule == "set_up_already":
		return nil
	case err != nil:
		return err
	}
	_, err = fmt.Fprintf(s.out, "nobody is set up yet; open this link once, within a day:\n  %s/start/%s\n",
		address, code)
	return err
}

// graceful is how long requests under way may take after the signal to stop.
const graceful = 20 * time.Second

// serveUntil answers until ctx ends, then lets the requests under way finish.
func serveUntil(ctx context.Context, server *web.Server, ln net.Listener) error {
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(ln) }()
	select {
	case err := <-failed:
		return fmt.Errorf("serve: the listener stopped: %w", err)
	case <-ctx.Done():
	}
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), graceful)
	defer cancel()
	return server.Shutdown(stop)
}
