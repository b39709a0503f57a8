package app

// Ranges cuts any bytes, for the fuzz target.
var Ranges = ranges

// MostUnanswered bounds what goes into the book of a run without having been answered.
func (a *App) MostUnanswered(n int) { a.idle.most = n }
