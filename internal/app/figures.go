package app

import "strings"

// WindowsOpen counts the accounts whose signals are answered now: on test, or in a practice run.
func (a *App) WindowsOpen() (open int) {
	now, forward := a.now(), a.forward()
	for account, gates := range *a.gates.Load() {
		for _, g := range gates {
			if g.answers(strings.ToUpper(account), now, forward) {
				open++
				break
			}
		}
	}
	return open
}
