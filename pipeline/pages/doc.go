// Package pages makes the pages of a run: the report of one or several output
// folders ([Report]) and the page that explains one recording ([Explain]). It
// collects from tables and data sets what package report draws.
package pages
