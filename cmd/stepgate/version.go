package main

import (
	"fmt"
	"runtime/debug"
	"time"

	"github.com/spf13/cobra"
)

// version is the number of a release, set when it is built:
// -ldflags "-X main.version=1.2.3". Empty: not built as a release.
var version string

// buildInfo is what a program knows of its own making. Its JSON is a contract:
// a text that is not known is "unknown", a date RFC 3339 in UTC.
type buildInfo struct {
	Version string `json:"version"`
	Commit  string `json:"commit"`
	Date    string `json:"date"`     // of the commit
	Changed bool   `json:"modified"` // the source was not quite that of the commit
	Go      string `json:"go"`
	System  string `json:"system"` // like linux/amd64
}

const unknownText = "unknown"

// thisBuild is what this program knows of its making.
func thisBuild() buildInfo {
	info, _ := debug.ReadBuildInfo()
	return readBuild(version, info)
}

// readBuild takes the version of a release before that of the Go tool, which
// knows one only where the source has a commit.
func readBuild(release string, info *debug.BuildInfo) buildInfo {
	b := buildInfo{release, unknownText, unknownText, false, unknownText, unknownText}
	if b.Version == "" {
		b.Version = unknownText
	}
	if info == nil {
		return b
	}
	if v := info.Main.Version; release == "" && v != "" && v != "(devel)" {
		b.Version = v
	}
	if info.GoVersion != "" {
		b.Go = info.GoVersion
	}
	set := map[string]string{}
	for _, s := range info.Settings {
		set[s.Key] = s.Value
	}
	if c := set["vcs.revision"]; c != "" {
		b.Commit = c
	}
	if at, err := time.Parse(time.RFC3339, set["vcs.time"]); err == nil {
		b.Date = at.UTC().Format(time.RFC3339)
	}
	b.Changed = set["vcs.modified"] == "true"
	if set["GOOS"] != "" && set["GOARCH"] != "" {
		b.System = set["GOOS"] + "/" + set["GOARCH"]
	}
	return b
}

func (b buildInfo) String() string {
	commit := b.Commit
	if b.Changed {
		commit += ", changed since"
	}
	return fmt.Sprintf("stepgate %s\ncommit   %s\nof       %s\nbuilt by %s for %s\n", b.Version, commit, b.Date, b.Go, b.System)
}

func versionCommand() *cobra.Command {
	asJSON := false
	cmd := &cobra.Command{
		Use:     "version",
		Short:   "Tell which version this is, and what it was built from",
		Example: "  stepgate version\n  stepgate version --json",
		Args:    wants(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if asJSON {
				return printJSON(cmd.OutOrStdout(), thisBuild())
			}
			_, err := fmt.Fprint(cmd.OutOrStdout(), thisBuild())
			return err
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	return cmd
}
