package cli

import (
	"bufio"
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httputil"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"strings"
	"sync"
	"time"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/panelsim"
	"proofbell/internal/receiver"
	"proofbell/internal/server"
	"proofbell/internal/store"
	"proofbell/panel"
	"proofbell/signal"
	"proofbell/site"
	"proofbell/web"
)

type serveCmd struct {
	Listen     string  `default:"127.0.0.1:8080" help:"Address of the web application." placeholder:"HOST:PORT"`
	Signals    string  `default:"127.0.0.1:5090" help:"Address of the signal receiver, TCP and UDP; empty: none." placeholder:"HOST:PORT"`
	Lan        bool    `help:"Also serve phones and tablets in the local network, over TLS, each paired with a code."`
	LanAddress string  `help:"The address of this machine in that network; needed where it has several." placeholder:"ADDRESS"`
	LanPort    uint16  `default:"8443" help:"Port for paired devices."`
	TrustPort  uint16  `default:"8444" help:"Port of the page that hands out the certificate."`
	Demo       bool    `help:"Load the practice building and start a simulated panel and station."`
	Speed      float64 `default:"10" hidden:"" help:"How much faster the simulated panel's own delays run."`

	dataFlags
	watchFlags
	limitFlags
	choiceFlags
}

// Run starts everything, prints the addresses, and waits until ctx ends.
func (c *serveCmd) Run(ctx context.Context, io *streams) (err error) {
	log := logger(io.err)
	hosts, err := webHosts(c.Listen)
	if err != nil {
		return err
	}
	if c.Lan && len(hosts) > 0 {
		return fmt.Errorf("--lan with --listen %q would let devices in that are not paired: leave --listen out, or name this machine alone, for example --listen 127.0.0.1:8080", c.Listen)
	}
	if c.Signals != "" {
		if err := oneAddress(c.Signals); err != nil {
			return err
		}
	}
	if !web.Built() {
		fmt.Fprintf(io.err, "The pages are not built into this program: API and receiver only. Run %s in the source folder for the pages.\n", web.BuildCommand)
	}
	if len(hosts) > 0 {
		fmt.Fprintf(io.err, "Caution: everyone on the network of %s can read and change the jobs here. With --lan instead, only paired devices can.\n", c.Listen)
	}
	dir, err := c.folder()
	if err != nil {
		return err
	}
	h, err := openHouse(ctx, c.dataFlags, log)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, h.close()) }()
	watching, err := c.watch(ctx, h.metrics, log)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, watching.close()) }()
	context.AfterFunc(ctx, func() { h.metrics.draining.Store(true) })
	var addresses []string
	if c.Signals != "" {
		addr, err := h.receive(ctx, c.Signals, c.limits(), c.policy())
		if err != nil {
			return err
		}
		addresses = append(addresses, addr.String())
	}
	var demoHandler http.Handler // stays nil without --demo
	if c.Demo {
		if err := h.loadDemo(ctx); err != nil {
			return err
		}
		if demoHandler, err = h.startPanel(ctx, addresses, c.Speed, io.err); err != nil {
			return err
		}
	}
	var lc net.ListenConfig
	listener, err := lc.Listen(ctx, "tcp", c.Listen)
	if err != nil {
		return fmt.Errorf("web application: %w; choose another address with --listen", err)
	}
	var network *lan // stays nil without --lan
	if c.Lan {
		if network, err = c.openLan(ctx, dir, io); err != nil {
			return errors.Join(err, listener.Close())
		}
		if network.Devices, err = h.openDevices(ctx); err != nil {
			return err
		}
	}
	fmt.Fprintf(io.out, "Proofbell       http://%s\n", listener.Addr())
	for _, a := range addresses {
		fmt.Fprintf(io.out, "Signals         %s (TCP and UDP)\n", a)
	}
	if watching.server != nil {
		fmt.Fprintf(io.out, "Metrics         %s\n", watching.address())
	}
	fmt.Fprintf(io.out, "Data            %s\n", dir)
	if c.Database != "" {
		fmt.Fprintf(io.out, "Books           %s\n", h.books.Place())
		if _, err := os.Stat(filepath.Join(dir, "books.db")); err == nil {
			fmt.Fprintf(io.err, "Caution: %s has job books of its own. They are not shown while --database is given.\n", dir)
		}
	}
	if c.Demo {
		fmt.Fprintln(io.out, "Practice        Larkwater Mill, with a simulated panel and station")
	}
	if network != nil {
		if err := network.print(io); err != nil {
			return err
		}
	}
	debug.FreeOSMemory() // what reading the jobs and the rules took is not needed at rest
	return serveAll(ctx, listener, network, server.Config{
		App: h.app, Files: web.Files(), Paper: paperMaker(h.app, time.Now), Demo: demoHandler, Version: Version, Signals: addresses, Receiving: h.receiving, Hosts: hosts, Log: log,
	}, log)
}

// webHosts are the names, beside those of this machine alone, by which requests may call a server that listens on addr.
func webHosts(addr string) ([]string, error) {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return nil, fmt.Errorf("--listen %q: %w; write it as host:port, for example 127.0.0.1:8080", addr, err)
	}
	ip := net.ParseIP(host)
	switch {
	case host == "" || ip != nil && ip.IsUnspecified():
		return nil, fmt.Errorf("--listen %q would open the jobs to every network of this machine: name one address", addr)
	case host == "localhost" || ip != nil && ip.IsLoopback():
		return nil, nil
	}
	return []string{host}, nil
}

// dataFolder returns the folder to keep data in: the given one, or the user's own place for such things.
func dataFolder(given string) (string, error) {
	if given != "" {
		return given, nil
	}
	base := os.Getenv("XDG_DATA_HOME")
	if base == "" {
		home, err := os.UserHomeDir()
		if err != nil {
			return "", fmt.Errorf("no data folder: %w; name one with --data", err)
		}
		base = filepath.Join(home, ".local", "share")
	}
	return filepath.Join(base, "proofbell"), nil
}

// house is everything that runs in one process, in the order in which it was opened.
type house struct {
	app      *app.App
	books    *store.Books
	inbox    *store.Inbox
	receiver *receiver.Receiver // nil: none
	log      *slog.Logger
	metrics  *metrics
	work     sync.WaitGroup
	closers  []func() error
}

func openHouse(ctx context.Context, data dataFlags, log *slog.Logger) (h *house, err error) {
	h = &house{log: log, metrics: newMetrics()}
	defer func() {
		if err != nil {
			err = errors.Join(err, h.close())
		}
	}()
	dir, err := data.folder()
	if err != nil {
		return h, err
	}
	books, err := data.open(ctx)
	if err != nil {
		return h, err
	}
	h.books = books
	h.closers = append(h.closers, books.Close)
	if h.inbox, err = store.OpenInbox(ctx, dir, store.Options{Committed: h.metrics.committed}); err != nil {
		return h, err
	}
	h.closers = append(h.closers, h.inbox.Close)
	name, _ := os.Hostname() // without one its receiver is called by its id
	h.app, err = app.New(ctx, app.Config{Store: books, Inbox: h.inbox, Now: time.Now, Random: rand.Reader, Log: log, Name: name})
	if err != nil {
		return h, err
	}
	h.metrics.windows(h.app.WindowsOpen)
	h.metrics.backlog(h.app.Backlog)
	run, stop := context.WithCancel(context.WithoutCancel(ctx))
	h.work.Go(func() {
		if err := h.app.Run(run); err != nil {
			log.Error("sequencer", "err", err)
		}
	})
	h.closers = append(h.closers, func() error { stop(); h.work.Wait(); return nil })
	return h, nil
}

// close ends everything, last opened first.
func (h *house) close() error {
	var errs []error
	for len(h.closers) > 0 {
		last := len(h.closers) - 1
		errs = append(errs, h.closers[last]())
		h.closers = h.closers[:last]
	}
	return errors.Join(errs...)
}

// receive opens the signal receiver on an address.
func (h *house) receive(ctx context.Context, addr string, limits receiver.Limits, policy signal.Policy) (net.Addr, error) {
	if err := oneAddress(addr); err != nil {
		return nil, err
	}
	r, err := receiver.New(receiver.Config{ID: h.inbox.Receiver(), Deliver: h.app.Deliver, Secret: h.app.Secret, Log: h.log, Limits: limits, Policy: policy, Observe: h.observe})
	if err != nil {
		return nil, err
	}
	h.receiver = r
	h.metrics.receiver(r)
	bound, err := r.Listen(ctx, addr)
	if err != nil {
		return nil, fmt.Errorf("%w; choose another address with --signals", err)
	}
	h.closers = append(h.closers, func() error {
		grace, cancel := context.WithTimeout(context.Background(), 5*time.Second)
		defer cancel()
		return r.Shutdown(grace)
	})
	return bound, nil
}

// oneAddress lets the receiver be opened to a network only knowingly: the address must then be a real one of this
// machine, never "all of them".
func oneAddress(addr string) error {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return fmt.Errorf("--signals %q: %w; write it as host:port, for example 127.0.0.1:5090", addr, err)
	}
	if ip := net.ParseIP(host); host == "" || ip != nil && ip.IsUnspecified() {
		return fmt.Errorf("--signals %q would listen on every network of this machine: name the one address that the panel reports to", addr)
	}
	return nil
}

// demoPerson opens the practice jobs.
const demoPerson evidence.PersonID = "okoro-lind"

// loadDemo opens the practice jobs in an empty data folder: the building as it was keyed, and its first draft.
func (h *house) loadDemo(ctx context.Context) error {
	if len(h.app.Jobs()) > 0 {
		return nil
	}
	for _, job := range []struct {
		name string
		yaml []byte
	}{{"Larkwater Mill", demo.Corrected}, {"Larkwater Mill, first draft", demo.Draft}} {
		s, err := site.DecodeYAML("demo", job.yaml)
		if err != nil {
			return fmt.Errorf("practice building: %w", err)
		}
		s.Name, s.Practice = job.name, true
		if _, err := h.app.Open(ctx, s, demoPerson); err != nil {
			return fmt.Errorf("practice building: %w", err)
		}
	}
	return nil
}

// startPanel starts the simulated panel as a process of its own and returns the way to it.
func (h *house) startPanel(ctx context.Context, signals []string, speed float64, errOut io.Writer) (http.Handler, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, fmt.Errorf("simulated panel: %w", err)
	}
	args := []string{"demo-panel", fmt.Sprintf("--speed=%g", speed)}
	if len(signals) > 0 {
		args = append(args, "--signals="+signals[0])
	}
	child := exec.Command(self, args...)
	child.Stderr = errOut
	hold, err := child.StdinPipe() // when this process ends, however it ends, the child's input ends and it stops
	if err != nil {
		return nil, fmt.Errorf("simulated panel: %w", err)
	}
	out, err := child.StdoutPipe()
	if err != nil {
		return nil, fmt.Errorf("simulated panel: %w", err)
	}
	if err := child.Start(); err != nil {
		return nil, fmt.Errorf("simulated panel: %w", err)
	}
	h.closers = append(h.closers, func() error { return errors.Join(hold.Close(), child.Wait()) })
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		return nil, fmt.Errorf("simulated panel did not start: %w", err)
	}
	target, err := url.Parse("http://" + strings.TrimSpace(line))
	if err != nil {
		return nil, fmt.Errorf("simulated panel: %w", err)
	}
	return passOn(target, h.log), nil
}

// passOn hands requests to the simulated panel's process. Each is read whole before it is handed on: over HTTP/1 the server
// closes a request's body when the answer begins, and a proxy that is still reading it then cuts its own answer off.
func passOn(target *url.URL, log *slog.Logger) http.Handler {
	proxy := &httputil.ReverseProxy{Rewrite: func(r *httputil.ProxyRequest) { r.SetURL(target) }, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn)}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, 64<<10))
		if err != nil {
			http.Error(w, "the request did not come whole", http.StatusBadRequest)
			return
		}
		r.Body, r.ContentLength = http.NoBody, int64(len(body))
		if len(body) > 0 {
			r.Body = io.NopCloser(bytes.NewReader(body))
		}
		proxy.ServeHTTP(w, r)
	})
}

type demoPanelCmd struct {
	Signals string  `help:"Receiver to report to, beside the simulated station."`
	Speed   float64 `default:"1"`
}

// Run is the simulated panel's process: it prints the address of its controls and ends with its standard input.
func (c *demoPanelCmd) Run(ctx context.Context, streams *streams) error {
	s, err := site.DecodeYAML("demo", demo.Corrected)
	if err != nil {
		return err
	}
	profile, err := panel.Builtin(s.Panel.Profile)
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	log := logger(streams.err)
	p, err := panelsim.Start(ctx, panelsim.Config{Site: s, Profile: profile, Signals: c.Signals, Speed: c.Speed, Now: time.Now, Log: log})
	if err != nil {
		return err
	}
	var lc net.ListenConfig
	l, err := lc.Listen(ctx, "tcp", "127.0.0.1:0")
	if err != nil {
		return errors.Join(err, p.Close())
	}
	fmt.Fprintln(streams.out, l.Addr())
	go func() { // ends with the process
		_, _ = io.Copy(io.Discard, streams.in)
		stop()
	}()
	return errors.Join(server.Serve(ctx, l, p.Handler(), log), p.Close())
}
