// Package prove is the proving engine: what has to be tripped, what has to arrive, and how far each device is proved.
//
// [Plan] derives the steps of a proving run from a site and a panel profile, in walking order. [Match] lays what was
// observed (ticks, signals, read-backs) over the plan and judges every expected signal and every step; its result does
// not depend on the order in which observations are given. [Window] is the guarded state machine of being on test.
// [Run] is the record of one run, folded from job book entries.
//
// Three kinds of evidence are never confused. A tick is what a person saw or did. A signal is what our own receiver got:
// it can fill the path strip up to the line. Only the station's evidence (a read-back, its history, a photo of it) fills
// the station. A signal that no tick explains is "received, nobody named the trip", and inside a test window it may be
// a real alarm.
//
// Every function is pure: no clock, file, network or random source; times are arguments. Values are not shared, so
// concurrent use is safe as long as nobody changes the arguments. Rules and defaults: docs/proving.md.
package prove
