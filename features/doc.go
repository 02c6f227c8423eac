// Package features measures a segmented heart-sound recording.
package features
