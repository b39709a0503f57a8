package app

// Ranges cuts any bytes, for the fuzz target.
var Ranges = ranges
