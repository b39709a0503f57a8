// Package upkeep says what a system needs after hand-over: what falls due, in rounds that one can act on; what a change
// obliges to prove again, by name; what a symptom most likely means; what is not known yet when a system is taken over.
//
// It is pure: site, rule set, proofs and the day come in, lists come out. Every item names what it rests on (rule set,
// edition, clause, confidence). None of it says that a system meets a code: local codes, the instructions of the
// equipment and licensed people decide.
package upkeep
