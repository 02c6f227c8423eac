// Package methods says what is known of the segmentation methods: their options with
// ranges, sources and what differs from the paper, and their citations; and of a folder
// of results, how its scores came about, as a paragraph for the methods section of a
// paper. All of it is read from where it is used: the registry of the methods, the run
// configurations, the built-in models, and plan and summary of the folder.
package methods
