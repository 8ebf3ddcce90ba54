package daemon

import (
	"regexp"
	"slices"
	"strings"
	"testing"
)

// unitOf is the unit of a folder whose settings end in these lines.
func unitOf(t *testing.T, binary, settings string) []string {
	t.Helper()
	c := bareClinic(t, RealClock{}, onSpool("p-01"))
	c.settings = spoolOnly() + settings
	c.write()
	text, err := Unit(UnitOptions{Dir: c.dir, User: "stepgate", Binary: binary})
	if err != nil {
		t.Fatal(err)
	}
	if left := regexp.MustCompile(`\{[A-Z]+\}`).FindString(text); left != "" {
		t.Errorf("%s was not filled in", left)
	}
	text = strings.ReplaceAll(text, c.dir, "/DIR")
	return strings.Split(text, "\n")
}

// TestUnit: what a unit says of the clinic's own folders, ports and secrets.
func TestUnit(t *testing.T) {
	const usual = "/usr/bin/stepgate"
	for _, c := range []struct {
		name, binary, settings string
		want, not              []string
	}{
		{
			"usual", usual, "",
			// The folders of tests are temporary ones.
			[]string{"ExecStart=/usr/bin/stepgate serve /DIR", "User=stepgate", "BindPaths=/DIR", "ProtectHome=tmpfs", "ProtectSystem=strict", "Type=notify", "WatchdogSec=5min",
				"CapabilityBoundingSet=", "PrivateUsers=yes", "# LoadCredential=sms-token:/etc/stepgate/sms-token", "LimitCORE=0"},
			[]string{"LoadCredential=sms-token:/etc/stepgate/sms-token", "BindReadOnlyPaths=/usr/bin/stepgate"},
		},
		{"program in a home", "/home/a/stepgate", "", []string{"BindReadOnlyPaths=/home/a/stepgate", "ExecStart=/home/a/stepgate serve /DIR"}, nil},
		{"folders elsewhere", usual, "data: /var/lib/stepgate\nspool: {dir: spool}\nbackup: {dir: /mnt/100% safe}\n",
			[]string{"BindPaths=/DIR", "ReadWritePaths=/var/lib/stepgate", `ReadWritePaths="/mnt/100%% safe"`}, []string{"ReadWritePaths=/DIR/spool"}},
		{"folders within", usual, "data: journal\nbackup: {dir: journal/old}\n", []string{"BindPaths=/DIR"}, []string{"BindPaths=/DIR/journal"}},
		{"settings with errors", usual, "data: /var/lib/stepgate\nnonsense: 1\n", []string{"BindPaths=/DIR", "ReadWritePaths=/var/lib/stepgate"}, nil},
		{"a low port", usual, "web: {listen: \":443\", public: https://plans.example.org}\n",
			[]string{"CapabilityBoundingSet=CAP_NET_BIND_SERVICE", "AmbientCapabilities=CAP_NET_BIND_SERVICE"}, []string{"PrivateUsers=yes", "CapabilityBoundingSet="}},
		{"a high port", usual, "web: {listen: \":1024\", public: https://plans.example.org}\n", []string{"CapabilityBoundingSet="}, nil},
		{"credentials", usual, "email:\n  host: mail.example.com\n  from: clinic@example.com\n  user: c\n  password: {file: $CREDENTIALS_DIRECTORY/mail.pass-1}\n" +
			"  dkim: {domain: example.com, selector: s, key: {file: $CREDENTIALS_DIRECTORY/dkim}}\n",
			[]string{"LoadCredential=mail.pass-1:/etc/stepgate/mail.pass-1", "LoadCredential=dkim:/etc/stepgate/dkim"}, []string{"# LoadCredential=sms-token:/etc/stepgate/sms-token"}},
	} {
		lines := unitOf(t, c.binary, c.settings)
		for _, want := range c.want {
			if n := len(slices.DeleteFunc(slices.Clone(lines), func(l string) bool { return l != want })); n != 1 {
				t.Errorf("%s: %q stands there %d times:\n%s", c.name, want, n, strings.Join(lines, "\n"))
			}
		}
		for _, not := range c.not {
			if slices.Contains(lines, not) {
				t.Errorf("%s: %q stands there", c.name, not)
			}
		}
	}
}

// TestUnitRefused: what could say something else in a unit is no part of one.
func TestUnitRefused(t *testing.T) {
	good := UnitOptions{Dir: "/srv/clinic", User: "stepgate", Binary: "/usr/bin/stepgate"}
	if _, err := Unit(good); err != nil {
		t.Fatal(err)
	}
	for _, odd := range []string{"a\nExecStartPre=/bin/x", `a"b`, "a'b", `a\b`, "a:b", "a$b", "a;b"} {
		for _, change := range []func(o *UnitOptions){
			func(o *UnitOptions) { o.Dir = "/srv/" + odd },
			func(o *UnitOptions) { o.Binary = "/opt/" + odd },
			func(o *UnitOptions) { o.User = odd },
		} {
			o := good
			change(&o)
			if text, err := Unit(o); err == nil {
				t.Errorf("%q: %s", odd, text)
			}
		}
	}
}

// TestHiddenFolders: a folder beside the homes is none of them.
func TestHiddenFolders(t *testing.T) {
	for path, want := range map[string]bool{"/home/a/clinic": true, "/root/clinic": true, "/homes/clinic": false, "/srv/home/clinic": false, "/tmp/x": true} {
		if isHidden(path) != want {
			t.Errorf("%s: hidden %v", path, !want)
		}
	}
	if got := roomLines([]string{"/srv/clinic", "/mnt/b"}, "/usr/bin/stepgate"); !slices.Equal(got, []string{"ReadWritePaths=/srv/clinic", "ReadWritePaths=/mnt/b", "ProtectHome=yes"}) {
		t.Errorf("%q", got)
	}
}

// TestContainerfile: the image runs the commands that there are, as a user
// without rights, in the folder it declares.
func TestContainerfile(t *testing.T) {
	for _, want := range []string{"\nFROM scratch\n", "CGO_ENABLED=0", "\nUSER 10001:10001\n", "\nVOLUME /clinic\n", `CMD ["/stepgate", "health", "/clinic"]`, `CMD ["serve", "/clinic"]`} {
		if !strings.Contains(Containerfile, want) {
			t.Errorf("there is no %q in the recipe", want)
		}
	}
}
