package report

// File is a file beside the page.
type File struct {
	Name    string
	Content []byte
}
