package cli

import (
	"bufio"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/netip"
	"os"
	"strconv"
	"strings"
	"time"

	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/server"
)

// lan is what serve adds with --lan: the application over TLS on one address, and the page that hands out the certificate.
type lan struct {
	server.Lan
	authority  *server.Authority
	hosts      []string
	pages      net.Listener // TLS
	trust      net.Listener // plain HTTP
	address    netip.Addr
	serverName string
}

// place is one address of this machine in a local network.
type place struct {
	address netip.Addr
	network string // name of the interface
}

// localPlaces lists the addresses of this machine in local networks, IPv4 first: those that a person would type.
func localPlaces() ([]place, error) {
	all, err := net.Interfaces()
	if err != nil {
		return nil, fmt.Errorf("asking for the networks of this machine: %w", err)
	}
	var four, six []place
	for _, one := range all {
		if one.Flags&net.FlagUp == 0 || one.Flags&net.FlagLoopback != 0 {
			continue
		}
		addresses, err := one.Addrs()
		if err != nil {
			return nil, fmt.Errorf("asking for the addresses of %s: %w", one.Name, err)
		}
		for _, text := range addresses {
			prefix, err := netip.ParsePrefix(text.String())
			if err != nil || !server.IsLocal(prefix.Addr()) || prefix.Addr().IsLinkLocalUnicast() {
				continue
			}
			found := place{prefix.Addr().Unmap(), one.Name}
			if found.address.Is4() {
				four = append(four, found)
			} else {
				six = append(six, found)
			}
		}
	}
	if len(four) > 0 {
		return four, nil
	}
	return six, nil
}

// choosePlace takes the one address there is, or asks which. Where nobody sits at the terminal it is an error that lists them.
func choosePlace(places []place, ask bool, in io.Reader, out io.Writer) (netip.Addr, error) {
	switch len(places) {
	case 0:
		return netip.Addr{}, errors.New("--lan: this machine has no address in a local network: join the network of the phone first, or give the address with --lan-address")
	case 1:
		return places[0].address, nil
	}
	var lines strings.Builder
	for i, one := range places {
		fmt.Fprintf(&lines, "  %d  %s  (%s)\n", i+1, one.address, one.network)
	}
	if !ask {
		return netip.Addr{}, fmt.Errorf("--lan: this machine has %d addresses in local networks: name the one of the phone's network with --lan-address\n%s", len(places), strings.TrimRight(lines.String(), "\n"))
	}
	answers := bufio.NewScanner(in)
	for range 3 {
		fmt.Fprintf(out, "In which network is the phone?\n%sNumber: ", lines.String())
		if !answers.Scan() {
			break
		}
		if n, err := strconv.Atoi(strings.TrimSpace(answers.Text())); err == nil && n >= 1 && n <= len(places) {
			return places[n-1].address, nil
		}
	}
	return netip.Addr{}, errors.New("--lan: no network was chosen: name the address with --lan-address")
}

// atTerminal reports whether a stream is a terminal with a person at it.
func atTerminal(stream any) bool {
	f, ok := stream.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// openLan opens both listeners. Nothing is answered until serve begins.
func (c *serveCmd) openLan(ctx context.Context, dir string, streams *streams) (l *lan, err error) {
	l = &lan{}
	if c.LanAddress != "" {
		if l.address, err = netip.ParseAddr(c.LanAddress); err != nil || !server.IsLocal(l.address) {
			return nil, fmt.Errorf("--lan-address %q: want one address of this machine in a private network, for example 192.168.1.5", c.LanAddress)
		}
	} else {
		places, err := localPlaces()
		if err != nil {
			return nil, err
		}
		if l.address, err = choosePlace(places, atTerminal(streams.in) && atTerminal(streams.out), streams.in, streams.out); err != nil {
			return nil, err
		}
	}
	if l.authority, err = server.OpenAuthority(dir, time.Now); err != nil {
		return nil, err
	}
	l.hosts = []string{l.address.String()}
	if name, err := os.Hostname(); err == nil && !strings.Contains(name, ".") && name != "" {
		l.serverName = strings.ToLower(name) + ".local"
		l.hosts = append(l.hosts, l.serverName)
	}
	var lc net.ListenConfig
	if l.pages, err = lc.Listen(ctx, "tcp", netip.AddrPortFrom(l.address, c.LanPort).String()); err != nil {
		return nil, fmt.Errorf("local network: %w; choose another port with --lan-port", err)
	}
	if l.trust, err = lc.Listen(ctx, "tcp", netip.AddrPortFrom(l.address, c.TrustPort).String()); err != nil {
		return nil, errors.Join(fmt.Errorf("page for the certificate: %w; choose another port with --trust-port", err), l.pages.Close())
	}
	l.Lan = server.Lan{Address: "https://" + l.pages.Addr().String(), Trust: "http://" + l.trust.Addr().String(), Fingerprint: l.authority.Fingerprint()}
	return l, nil
}

// print says where to go. At a terminal it also shows the code for the first device, which is the lead's own.
func (l *lan) print(streams *streams) error {
	fmt.Fprintf(streams.out, "Local network   %s\nCertificate     %s\nFingerprint     %s\n", l.Address, l.Trust, l.Fingerprint)
	if !atTerminal(streams.out) {
		return nil
	}
	code, err := l.Devices.NewCode(book.Lead)
	if err != nil {
		return err
	}
	fmt.Fprintf(streams.out, "\n1. On the phone open %s and trust the certificate, once.\n2. Scan this within ten minutes, or open %s/pair and type %s %s. It pairs one device, as lead.\n\n%s\nMore codes, for helpers too: \"This device\" on the pages of this computer.\n",
		l.Trust, l.Address, code.Digits[:4], code.Digits[4:], server.Square(server.PairingAddress(l.Address, code)))
	return nil
}

// serve answers until ctx ends.
func (l *lan) serve(ctx context.Context, config server.Config, log *slog.Logger) error {
	config.Lan, config.Hosts = &l.Lan, l.hosts
	names := []string{"localhost"}
	if l.serverName != "" {
		names = append(names, l.serverName)
	}
	both := make(chan error, 2)
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	go func() {
		both <- server.ServeTLS(ctx, l.pages, l.authority.TLS(l.address, names...), server.NewLan(config), log)
		stop()
	}()
	go func() {
		both <- server.Serve(ctx, l.trust, server.Trust(l.authority, l.Lan, l.hosts), log)
		stop()
	}()
	return errors.Join(<-both, <-both)
}

// serveAll answers on this machine and, with --lan, in the local network; the end of one ends all.
func serveAll(ctx context.Context, listener net.Listener, l *lan, config server.Config, log *slog.Logger) error {
	if l == nil {
		return server.Serve(ctx, listener, server.New(config), log)
	}
	config.Lan = &l.Lan
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	ended := make(chan error, 1)
	go func() {
		ended <- l.serve(ctx, config, log)
		stop()
	}()
	err := server.Serve(ctx, listener, server.New(config), log)
	stop()
	return errors.Join(err, <-ended)
}

// openDevices reads who may come in over the local network.
func (h *house) openDevices(ctx context.Context) (*app.Devices, error) {
	return app.OpenDevices(ctx, h.books, time.Now, rand.Reader)
}
