package templates

import (
	"embed"
	"io/fs"
)

//go:embed starters/*.yaml
var starters embed.FS

// Starters are program files to start from, one for each common need, by file
// name. None is approved: a clinician looks one through, changes it and stands
// for it. The doses are published ones, with the source in the file.
func Starters() fs.FS {
	sub, err := fs.Sub(starters, "starters")
	if err != nil { // only for a name that is no path
		panic(err)
	}
	return sub
}
