package daemon

import (
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"stepgate/config"
)

// UnitOptions say what a systemd unit is made for.
type UnitOptions struct {
	Dir    string // the clinic's folder
	User   string // whom the service runs as
	Binary string // path of the program
}

// Unit is a systemd unit, see systemd.service(5) and systemd.exec(5), for the
// service of a clinic folder. What it may write and which credentials it needs
// is taken from the clinic's files, as far as they can be read.
func Unit(o UnitOptions) (string, error) {
	for _, path := range []*string{&o.Dir, &o.Binary} {
		abs, err := filepath.Abs(*path)
		if err != nil {
			return "", fmt.Errorf("print unit: %w", err)
		}
		*path = abs
	}
	if err := o.check(); err != nil {
		return "", err
	}
	c, _ := config.Load(o.Dir, nil) // with errors in it the rest of the unit is right all the same
	r := strings.NewReplacer(
		"{USER}", o.User, "{DIR}", quotedPath(o.Dir), "{BINARY}", quotedPath(o.Binary),
		"{CREDENTIALS}", credentialLines(o.Dir), "{ROOM}", strings.Join(roomLines(written(o.Dir, c), o.Binary), "\n"),
		"{POWERS}", powerLines(c))
	return r.Replace(unitText), nil
}

// unitText: a stop takes at most a minute and a half (twice the grace of
// [RunOptions], and outcomes). A start may have a journal to bring up to date. No exit code keeps it
// from being started again: a Go program that crashes, or that the watchdog
// ends, exits with 2, as after wrong use.
const unitText = `# A systemd unit for stepgate. Save it as /etc/systemd/system/stepgate.service;
# then: systemctl daemon-reload, systemctl enable --now stepgate.
# The user: useradd --system --home-dir / --shell /usr/sbin/nologin {USER}
# and the folder is that user's: chown -R {USER}: {DIR}

[Unit]
Description=Stepgate, home exercise by text and mail
Wants=network-online.target
After=network-online.target time-sync.target
StartLimitIntervalSec=0

[Service]
Type=notify
NotifyAccess=main
ExecStart={BINARY} serve {DIR}
ExecReload=/bin/kill -HUP $MAINPID
User={USER}
Group={USER}
UMask=0077
WatchdogSec=5min
Restart=on-failure
RestartSec=10s
TimeoutStartSec=10min
TimeoutStopSec=90s
# What a crash leaves must not hold names or secrets.
LimitCORE=0

# Secrets: readable by root only, handed over at the start.
{CREDENTIALS}

# Where it may write; each of these must be there. Other places are read-only,
# and homes and temporary files of others can't be seen.
{ROOM}
ProtectSystem=strict
PrivateTmp=yes
PrivateDevices=yes
DevicePolicy=closed
PrivateMounts=yes
ProtectProc=invisible
ProcSubset=pid
RemoveIPC=yes

# What it may do.
{POWERS}
NoNewPrivileges=yes
RestrictAddressFamilies=AF_INET AF_INET6 AF_UNIX
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
LockPersonality=yes
MemoryDenyWriteExecute=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources
SystemCallErrorNumber=EPERM
ProtectClock=yes
ProtectControlGroups=yes
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes

[Install]
WantedBy=multi-user.target
`

// written are the folders that the service writes in, the clinic's first:
// answers of the clinic's people edit its files.
func written(dir string, c *config.Clinic) []string {
	out := []string{dir}
	more := []string{config.DataDir(dir)}
	if c != nil {
		more = append(more, c.Data, c.Spool.Dir)
		if c.Backups != nil {
			more = append(more, c.Backups.Dir)
		}
	}
	for _, path := range more {
		in := func(folder string) bool {
			return path == folder || strings.HasPrefix(path, strings.TrimSuffix(folder, "/")+"/")
		}
		if !slices.ContainsFunc(out, in) {
			out = append(out, path)
		}
	}
	return out
}

// hidden are folders that a service sees nothing of: people's homes, and the
// common temporary ones.
var hidden = []string{"/home/", "/root/", "/run/user/", "/tmp/", "/var/tmp/"}

func isHidden(path string) bool {
	return slices.ContainsFunc(hidden, func(h string) bool { return strings.HasPrefix(path, h) })
}

// roomLines let the service write in its folders. Those in hidden places, and
// the program if it lies in one, are shown on their own.
func roomLines(folders []string, binary string) []string {
	home := "ProtectHome=yes"
	var lines []string
	add := func(key, inHidden, path string) {
		if isHidden(path) {
			key, home = inHidden, "ProtectHome=tmpfs" // nothing can be shown in one that is shut
		}
		if key != "" {
			lines = append(lines, key+quotedPath(path))
		}
	}
	for _, path := range folders {
		add("ReadWritePaths=", "BindPaths=", path)
	}
	add("", "BindReadOnlyPaths=", binary)
	return append(lines, home)
}

// powerLines: none at all, but for a port that only root may listen on.
func powerLines(c *config.Clinic) string {
	var addresses []string
	if c != nil && c.Web != nil {
		addresses = append(addresses, c.Web.Listen)
	}
	if c != nil && c.SMS != nil {
		addresses = append(addresses, c.SMS.Listen)
	}
	low := func(address string) bool {
		_, port, err := net.SplitHostPort(address)
		number, perr := net.LookupPort("tcp", port)
		return err == nil && perr == nil && number > 0 && number < 1024 // ip(7), ip_unprivileged_port_start
	}
	if slices.ContainsFunc(addresses, low) {
		return "CapabilityBoundingSet=CAP_NET_BIND_SERVICE\nAmbientCapabilities=CAP_NET_BIND_SERVICE"
	}
	return "CapabilityBoundingSet=\nAmbientCapabilities=\nPrivateUsers=yes"
}

var credentialName = regexp.MustCompile(`\$CREDENTIALS_DIRECTORY/([A-Za-z0-9][A-Za-z0-9._-]*)`)

// credentialLines hand over the credentials that the settings name, or show
// how that is written.
func credentialLines(dir string) string {
	const keep = "LoadCredential=%s:/etc/stepgate/%[1]s"
	var lines []string
	if text, err := os.ReadFile(filepath.Join(dir, "stepgate.yaml")); err == nil {
		for _, m := range credentialName.FindAllSubmatch(text, -1) {
			if line := fmt.Sprintf(keep, m[1]); !slices.Contains(lines, line) {
				lines = append(lines, line)
			}
		}
	}
	if len(lines) == 0 {
		return "# In stepgate.yaml: token: {file: $CREDENTIALS_DIRECTORY/sms-token}\n# " + fmt.Sprintf(keep, "sms-token") + "\n# " + fmt.Sprintf(keep, "mail-password")
	}
	return strings.Join(lines, "\n")
}

// quotedPath writes a path as systemd.syntax(7) and systemd.unit(5) have it.
func quotedPath(path string) string {
	path = strings.ReplaceAll(path, "%", "%%")
	if strings.Contains(path, " ") {
		return `"` + path + `"`
	}
	return path
}

var (
	userName = regexp.MustCompile(`^[a-z_][a-z0-9_-]{0,30}$`) // useradd(8)
	oddPath  = regexp.MustCompile("[\x00-\x1f\x7f\"'\\\\$:;,*?]")
)

// check refuses what would mean something else in a unit.
func (o UnitOptions) check() error {
	if !userName.MatchString(o.User) {
		return errors.New("print unit: this is no name of a user; write one like stepgate")
	}
	for _, path := range []string{o.Dir, o.Binary} {
		if oddPath.MatchString(path) {
			return fmt.Errorf("print unit: the path %q has characters in it that a unit can't hold; move it", path)
		}
	}
	return nil
}
