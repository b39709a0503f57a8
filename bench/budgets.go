package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"

	"proofbell/demo"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/site"
)

// program is what `tools/build` makes.
const program = "bin/proofbell"

var serveStart = measure{
	name: "start", what: "proofbell serve, from its start to its first answer, on a new data folder", budget: 0.5, unit: "s",
	run: func() (result, error) {
		value, err := best(5, func() error {
			return serving(func(string, int) error { return nil })
		})
		if err != nil {
			return result{}, err
		}
		plain, err := best(5, func() error { return exec.Command(program, "--version").Run() })
		return result{value: value, baseline: plain, plain: "the same program that only prints its version"}, err
	},
}

var serveMemory = measure{
	name: "memory", what: "resident memory of proofbell serve at rest, the practice building open", budget: 80, unit: "MB",
	run: func() (result, error) {
		var r result
		err := serving(func(_ string, pid int) (err error) {
			r.value, err = resident(pid)
			return err
		}, "--demo")
		return r, err
	},
}

var firstPage = measure{
	name: "page", what: "first page over the wire, the engine apart", budget: 250, unit: "kB",
	run: func() (r result, err error) {
		err = serving(func(base string, _ int) error {
			page, raw, err := fetch(base + "/")
			if err != nil {
				return err
			}
			sum := page
			for _, found := range regexp.MustCompile(`(?:src|href)="(/[^"]+)"`).FindAllSubmatch(raw, -1) {
				n, text, err := fetch(base + string(found[1]))
				if err != nil {
					return err
				}
				sum += n
				if !bytes.HasSuffix(found[1], []byte(".css")) {
					continue
				}
				// The two fonts of a page without letters of other alphabets.
				for _, font := range regexp.MustCompile(`url\(([^)]*-latin-(?:400|700)[^)]*woff2)\)`).FindAllSubmatch(text, -1) {
					n, _, err := fetch(base + string(font[1]))
					if err != nil {
						return err
					}
					sum += n
				}
			}
			r.value = float64(sum) / 1000
			return nil
		})
		return r, err
	},
}

var engineSize = measure{
	name: "engine", what: "the engine for the browser, compressed, loaded after the first page", budget: 2.75, unit: "MB",
	run: func() (r result, err error) {
		err = serving(func(base string, _ int) error {
			n, _, err := fetch(base + "/engine.wasm")
			r.value = float64(n) / 1e6
			return err
		})
		if err == nil {
			if info, statErr := os.Stat("web/dist/engine.wasm"); statErr == nil {
				r.note = fmt.Sprintf("%.1f MB in the browser's memory", float64(info.Size())/1e6)
			}
		}
		return r, err
	},
}

var checkLarge = measure{
	name: "check", what: "a site of 5,000 devices in 1,000 rooms, read from JSON and checked", budget: 0.5, unit: "s",
	run: func() (result, error) {
		text, err := largeSite(5000)
		if err != nil {
			return result{}, err
		}
		found := 0
		value, err := best(3, func() error {
			s, err := site.DecodeJSON("large.json", text)
			if err != nil {
				return err
			}
			profile, err := panel.Builtin(s.Panel.Profile)
			if err != nil {
				return err
			}
			findings, err := rules.Check(s, profile, time.Date(2026, 9, 15, 0, 0, 0, 0, time.UTC))
			found = len(findings)
			return err
		})
		if err != nil {
			return result{}, err
		}
		plain, err := best(3, func() error {
			var s site.Site
			return json.Unmarshal(text, &s)
		})
		return result{value: value, baseline: plain, plain: "encoding/json reading the same text, no more", note: fmt.Sprintf("%.1f MB, %d findings", float64(len(text))/1e6, found)}, err
	},
}

// largeSite is the practice building with so many devices more, five to a room, on one storey.
func largeSite(devices int) ([]byte, error) {
	s, err := site.DecodeYAML("mill.yaml", demo.Corrected)
	if err != nil {
		return nil, err
	}
	model := site.SortedIDs(s.Models)[0]
	storey := site.SortedIDs(s.Storeys)[0]
	for i := range devices {
		room := site.RoomID(fmt.Sprintf("wing-%04d", i/5))
		if i%5 == 0 {
			x := 100 + i
			var outline site.Outline
			corners := fmt.Sprintf(`[["%[1]d m","0 m"],["%[2]d m","0 m"],["%[2]d m","4 m"],["%[1]d m","4 m"]]`, x, x+4)
			if err := json.Unmarshal([]byte(corners), &outline); err != nil {
				return nil, err
			}
			s.Rooms[room] = site.Room{Name: fmt.Sprintf("Room %d", i/5), Storey: storey, Use: "office", Outline: outline}
		}
		s.Devices[site.DeviceID(fmt.Sprintf("more-%04d", i))] = site.Device{Model: model, Room: room, Identity: fmt.Sprintf("DC%06d", 100_000+i)}
	}
	return json.Marshal(s)
}

// serving runs the server on free ports and an empty folder, waits for its first answer and then does the work.
func serving(work func(base string, pid int) error, more ...string) (err error) {
	dir, err := os.MkdirTemp("", "proofbell-bench-")
	if err != nil {
		return err
	}
	defer func() { _ = os.RemoveAll(dir) }() // only a copy of nothing
	ctx, stop := context.WithTimeout(context.Background(), time.Minute)
	defer stop()
	cmd := exec.CommandContext(ctx, program, append([]string{"serve", "--listen", "127.0.0.1:0", "--signals", "127.0.0.1:0", "--data", filepath.Join(dir, "data")}, more...)...)
	out, err := cmd.StdoutPipe()
	if err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return fmt.Errorf("%w: tools/build makes it", err)
	}
	defer func() {
		_ = cmd.Process.Signal(os.Interrupt) // it may have ended
		_, _ = io.Copy(io.Discard, out)
		_ = cmd.Wait()
	}()
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		base, found := strings.CutPrefix(lines.Text(), "Proofbell")
		if base = strings.TrimSpace(base); !found {
			continue
		}
		if _, _, err := fetch(base + "/api/hello"); err != nil {
			return err
		}
		return work(base, cmd.Process.Pid)
	}
	return fmt.Errorf("serve ended before it said where it listens: %w", lines.Err())
}

// fetch asks as a browser does and returns how many bytes came over the wire, and what they say where they came plain.
func fetch(url string) (int, []byte, error) {
	text, err := get(url, "identity")
	if err != nil {
		return 0, nil, err
	}
	wire, err := get(url, "br, gzip")
	return len(wire), text, err
}

func get(url, encoding string) ([]byte, error) {
	req, err := http.NewRequestWithContext(context.Background(), http.MethodGet, url, nil)
	if err != nil {
		return nil, err
	}
	req.Header.Set("Accept-Encoding", encoding)
	req.Header.Set("Accept", "text/html, */*")
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return nil, err
	}
	defer func() { _ = resp.Body.Close() }() // only read
	if resp.StatusCode != http.StatusOK {
		return nil, fmt.Errorf("%s: %s", url, resp.Status)
	}
	return io.ReadAll(resp.Body)
}

// resident reads how much memory a process holds, in MB.
func resident(pid int) (float64, error) {
	raw, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0, err
	}
	for line := range strings.Lines(string(raw)) {
		if rest, ok := strings.CutPrefix(line, "VmRSS:"); ok {
			kib, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(rest), " kB"), 64)
			return kib * 1024 / 1e6, err
		}
	}
	return 0, fmt.Errorf("no VmRSS of process %d", pid)
}
