package prove

import "proofbell/internal/words"

// reasons are those that usually stand behind a statement. What is kept is the English one, so that every reader reads it
// in a language of their own; what somebody typed stays as it was typed.
var reasons = map[Did][]string{
	Failed:     {words.Mark("No sound heard"), words.Mark("The panel does not show it"), words.Mark("Damaged"), words.Mark("Another device is fitted here")},
	CannotTest: {words.Mark("No access"), words.Mark("No safe way up"), words.Mark("Someone sleeps there"), words.Mark("Its instructions do not allow it")},
}

// Reasons lists what may be given as the reason of a statement, as it is kept.
func Reasons(what Did) []string { return reasons[what] }
