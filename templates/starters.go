package templates

import (
	"embed"
	"io/fs"
)

//go:embed starters/*.yaml
var starters embed.FS

//go:embed starterclinic
var starterClinic embed.FS

// StarterClinic are the files of a clinic's new folder, as templates.
func StarterClinic() fs.FS { return within(starterClinic, "starterclinic") }

// Starters are program files to start from, one for each common need, by file
// name. None is approved: a clinician looks one through, changes it and stands
// for it. The doses are published ones, with the source in the file.
func Starters() fs.FS { return within(starters, "starters") }

func within(all fs.FS, folder string) fs.FS {
	sub, err := fs.Sub(all, folder)
	if err != nil { // only for a name that is no path
		panic(err)
	}
	return sub
}
