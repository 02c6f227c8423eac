package dataset

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
)

// Digest identifies the layout by the text that it was read from.
func (l *Layout) Digest() string {
	sum := sha256.Sum256(l.Text)
	return hex.EncodeToString(sum[:])
}

// LabelDoc says where a label comes from, for the metadata of a column.
func (l *Layout) LabelDoc(name string) string {
	for _, t := range l.Tables {
		for _, rule := range t.Labels {
			if rule.Name == name {
				return fmt.Sprintf("label of the data set: column %s of %s", rule.Column, t.Path)
			}
		}
	}
	return "label of the data set: part of the file's path"
}
