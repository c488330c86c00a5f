// Package lampwise is empty; the program is cmd/lampwise. The file stands so
// that the module's own test, which holds the table of imports, has a home.
package lampwise
