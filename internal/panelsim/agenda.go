package panelsim

import (
	"container/heap"
	"time"
)

// due is something that the panel does at a moment. What is due at the same moment is done in the order in which it was
// planned: an alarm never overtakes its restore.
type due struct {
	at    time.Time
	order int
	do    func()
}

type agenda struct {
	list  []due
	order int
}

func (a *agenda) Len() int { return len(a.list) }
func (a *agenda) Less(i, j int) bool {
	x, y := a.list[i], a.list[j]
	return x.at.Before(y.at) || x.at.Equal(y.at) && x.order < y.order
}
func (a *agenda) Swap(i, j int) { a.list[i], a.list[j] = a.list[j], a.list[i] }
func (a *agenda) Push(v any)    { a.list = append(a.list, v.(due)) }
func (a *agenda) Pop() any {
	last := a.list[len(a.list)-1]
	a.list = a.list[:len(a.list)-1]
	return last
}

// after plans something for when the panel's own delay is over. p.mu is held, now and when it is done.
func (p *Panel) after(seconds float64, do func()) {
	p.agenda.order++
	heap.Push(&p.agenda, due{time.Now().Add(time.Duration(seconds / p.cfg.Speed * float64(time.Second))), p.agenda.order, do})
	select {
	case p.sooner <- struct{}{}:
	default:
	}
}

// keepAgenda does what is due, until Close.
func (p *Panel) keepAgenda() {
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		select {
		case <-timer.C:
		case <-p.sooner:
		case <-p.ctx.Done():
			return
		}
		p.mu.Lock()
		for p.agenda.Len() > 0 && !p.agenda.list[0].at.After(time.Now()) {
			heap.Pop(&p.agenda).(due).do()
		}
		if p.agenda.Len() > 0 {
			timer.Reset(time.Until(p.agenda.list[0].at))
		}
		p.mu.Unlock()
	}
}
