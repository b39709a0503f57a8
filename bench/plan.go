package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"strings"
)

const planScript = "bench/plan.mjs"

var planDrag = measure{
	name: "plan", what: "frames while sheet and devices of a plan of 60 rooms and 300 devices are dragged in Chromium, on a phone's screen with the processor throttled to a quarter, the slower of the two", budget: 30, unit: "frames/s", atLeast: true,
	needs: func() string {
		if _, err := exec.LookPath("node"); err != nil {
			return "node is not installed"
		}
		if _, err := os.Stat(cmp.Or(os.Getenv("CHROMIUM"), "/usr/bin/chromium")); err != nil {
			return "Chromium is not installed"
		}
		for _, file := range []string{"bin/proofbell", "web/node_modules/playwright-core"} {
			if _, err := os.Stat(file); err != nil {
				return file + " is missing: tools/build makes it"
			}
		}
		return ""
	},
	run: func() (r result, err error) {
		out, err := exec.Command("node", planScript).Output()
		if err != nil {
			return r, fmt.Errorf("%s: %w", planScript, err)
		}
		lines := strings.Split(strings.TrimSpace(string(out)), "\n")
		var frames map[string]float64
		if err := json.Unmarshal([]byte(lines[len(lines)-1]), &frames); err != nil {
			return r, fmt.Errorf("what %s printed: %w", planScript, err)
		}
		r.value = min(frames["phone sheet"], frames["phone device"])
		r.note = fmt.Sprintf("phone: sheet %.0f, device %.0f; laptop: sheet %.0f, device %.0f", frames["phone sheet"], frames["phone device"], frames["laptop sheet"], frames["laptop device"])
		return r, nil
	},
}
