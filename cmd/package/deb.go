package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/goreleaser/nfpm/v2"
	_ "github.com/goreleaser/nfpm/v2/deb" // the format
	"github.com/goreleaser/nfpm/v2/files"
)

const description = `home exercises by text and mail for a foot and ankle clinic
A service for a clinic that dispenses foot orthoses. It texts or mails each
patient the day's home exercises and wear time, takes a reply of one letter,
and holds the next step back when replies report pain.
.
It is one program with its own data file: no database and no web server are
needed.`

// debian writes the package of an architecture. stage has its scripts.
func (r *release) debian(arch, stage string, content tree) error {
	version := debianVersion(r.version)
	info := &nfpm.Info{
		Name: "stepgate", Arch: arch, Platform: "linux", Version: version, VersionSchema: "none", Release: "1",
		Section: "misc", Priority: "optional", Maintainer: r.maintainer, Description: description, MTime: r.at, DisableGlobbing: true,
	}
	// The unit reloads with kill, which is in procps; the user and the folders are
	// made by the other two. Certificates are wanted for mail and texts.
	info.Depends = []string{"procps", "systemd | systemd-standalone-sysusers", "systemd | systemd-standalone-tmpfiles"}
	info.Recommends = []string{"ca-certificates"}
	info.Suggests = []string{"bash-completion"}
	info.Deb.Compression = "xz"
	info.Scripts = nfpm.Scripts{
		PostInstall: filepath.Join(stage, "postinst"), PreRemove: filepath.Join(stage, "prerm"), PostRemove: filepath.Join(stage, "postrm"),
	}
	for _, f := range content {
		info.Contents = append(info.Contents, &files.Content{Source: f.from, Destination: f.to,
			FileInfo: &files.ContentFileInfo{Owner: "root", Group: "root", Mode: f.mode, MTime: r.at}})
	}
	packager, err := nfpm.Get("deb")
	if err != nil {
		return err
	}
	if err := nfpm.PrepareForPackager(info, "deb"); err != nil {
		return fmt.Errorf("lay out the package: %w", err)
	}
	out, err := os.Create(filepath.Join(r.out, fmt.Sprintf("stepgate_%s-1_%s.deb", version, arch)))
	if err != nil {
		return err
	}
	if err := packager.Package(info, out); err != nil {
		out.Close()
		return fmt.Errorf("write the package: %w", err)
	}
	return out.Close()
}
