//go:build proof

package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// cleanRoot is a Debian of its own, with what the package depends on in it.
type cleanRoot struct {
	t   *testing.T
	dir string
}

func newRoot(t *testing.T) *cleanRoot {
	t.Helper()
	if os.Getuid() != 0 {
		t.Fatal("this proof installs packages in a root of its own; only root can make one")
	}
	dir := filepath.Join(t.TempDir(), "root")
	need(t, "unshare")
	cmd := exec.Command(need(t, "mmdebstrap"), "--variant=apt", "--include=systemd,procps", "bookworm", dir)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("mmdebstrap: %v\n%s", err, out)
	}
	return &cleanRoot{t, dir}
}

// try runs a line in the root, where nothing outside can be seen or touched.
func (c *cleanRoot) try(line string) (string, error) {
	cmd := exec.Command("unshare", "--mount", "--pid", "--ipc", "--uts", "--fork", "--kill-child", "--mount-proc="+filepath.Join(c.dir, "proc"),
		"chroot", c.dir, "/bin/sh", "-ec", line)
	cmd.Env = []string{"PATH=/usr/sbin:/usr/bin:/sbin:/bin", "DEBIAN_FRONTEND=noninteractive", "LC_ALL=C.UTF-8"}
	out, err := cmd.CombinedOutput()
	return string(out), err
}

func (c *cleanRoot) run(line string) string {
	c.t.Helper()
	out, err := c.try(line)
	if err != nil {
		c.t.Fatalf("%s: %v\n%s", line, err, out)
	}
	return out
}

// want runs a line that has to print just this.
func (c *cleanRoot) want(line, want string) {
	c.t.Helper()
	if out := strings.TrimSpace(c.run(line)); out != want {
		c.t.Errorf("%s:\n%s\nwant:\n%s", line, out, want)
	}
}

// put copies a file into the root.
func (c *cleanRoot) put(from, to string) {
	c.t.Helper()
	if err := os.WriteFile(filepath.Join(c.dir, to), read(c.t, from), 0o644); err != nil {
		c.t.Fatal(err)
	}
}

// TestProofDebian installs the package in a clean Debian, puts a clinic there,
// upgrades, removes, purges and installs again: dpkg runs the scripts as root,
// apt sees that what the package depends on is there. No systemd runs there, so
// starting and stopping the service by these scripts is not covered; that the
// service runs as its user in the folder is.
func TestProofDebian(t *testing.T) {
	t.Parallel()
	root := newRoot(t)
	first := theRelease(t)
	next := testRelease(t, first.source, t.TempDir())
	next.version, next.arches = "9.9.0", []string{hostArch(t)}
	if err := next.make(context.Background()); err != nil {
		t.Fatal(err)
	}
	root.put(first.one(t, "*_"+hostArch(t)+".deb"), "first.deb")
	root.put(next.one(t, "*.deb"), "next.deb")

	root.installed()
	record := root.clinic()
	root.upgraded(record)
	root.removed(record)
	root.purged(record)
}

func (c *cleanRoot) installed() {
	c.t.Helper()
	c.run("apt-get install -y --no-install-recommends /first.deb")
	c.want("stepgate version | head -n 1", "stepgate "+testVersion)
	c.want("getent passwd stepgate | cut -d: -f6-", "/var/lib/stepgate:/usr/sbin/nologin")
	c.want("stat -c '%n %A %U %G' /var/lib/stepgate /etc/stepgate /usr/bin/stepgate",
		"/var/lib/stepgate drwx------ stepgate stepgate\n/etc/stepgate drwx------ root root\n/usr/bin/stepgate -rwxr-xr-x root root")
	c.want("systemctl is-enabled stepgate", "enabled")
	c.want("dpkg --verify stepgate", "")
	c.want("dpkg --audit", "")
	// The unit is one that systemd can read.
	c.want("systemd-analyze verify --man=no stepgate.service 2>&1", "")
	// Installing it again harms nothing.
	c.run("dpkg --install /first.deb")
}

// clinic puts a clinic there as an admin would, with a secret and a change of
// the unit, and has it served. It gives a line that prints what there is.
func (c *cleanRoot) clinic() string {
	c.t.Helper()
	c.run(`mkdir /clinic /etc/systemd/system/stepgate.service.d
printf 'a secret\n' >/etc/stepgate/sms-token
chmod 0600 /etc/stepgate/sms-token
printf '[Service]\nLoadCredential=sms-token:/etc/stepgate/sms-token\n' >/etc/systemd/system/stepgate.service.d/override.conf
chmod 0777 /clinic`)
	if err := os.CopyFS(filepath.Join(c.dir, "clinic", "files"), os.DirFS("../../testdata/clinic")); err != nil {
		c.t.Fatal(err)
	}
	c.run(`chown -R stepgate: /clinic/files && cp -a /clinic/files/. /var/lib/stepgate/ && rm -r /clinic
runuser -u stepgate -- stepgate check /var/lib/stepgate`)
	c.serves()
	c.want("systemd-analyze verify --man=no stepgate.service 2>&1", "")
	record := "find /var/lib/stepgate /etc/stepgate /etc/systemd/system/stepgate.service.d -type f -exec sha256sum {} + | sort -k 2"
	if out := c.run(record); !strings.Contains(out, "/var/lib/stepgate/data/journal.db") || !strings.Contains(out, "/etc/stepgate/sms-token") {
		c.t.Fatalf("what there is to be kept:\n%s", out)
	}
	return record
}

// serves runs the service as its user until it says that it is well.
func (c *cleanRoot) serves() {
	c.t.Helper()
	out := c.run(`cd /
runuser -u stepgate -- stepgate serve /var/lib/stepgate >/tmp/serve.log 2>&1 &
tries=0
until runuser -u stepgate -- stepgate health /var/lib/stepgate >/tmp/health.log 2>&1; do
	tries=$((tries + 1))
	[ "$tries" -lt 100 ] || { cat /tmp/serve.log /tmp/health.log; exit 1; }
	sleep 0.1
done
pkill -TERM -x -u stepgate stepgate
wait
tail -n 1 /tmp/serve.log`)
	if !strings.Contains(out, "msg=stop.done") {
		c.t.Fatalf("the service did not end in order:\n%s", out)
	}
}

func (c *cleanRoot) upgraded(record string) {
	c.t.Helper()
	before := c.run(record)
	c.run("systemctl disable stepgate 2>/dev/null")
	c.run("dpkg --install /next.deb")
	c.want("stepgate version | head -n 1", "stepgate 9.9.0")
	c.want(record, strings.TrimSpace(before))
	c.want("systemctl is-enabled stepgate || true", "disabled")
	c.run("systemctl enable stepgate 2>/dev/null")
	c.want("stat -c '%A %U %G' /var/lib/stepgate", "drwx------ stepgate stepgate")
	c.serves()
}

// left prints what of the package's is in the root, and the clinic's folders.
const left = "find / -xdev -name '*stepgate*' ! -path '/var/lib/stepgate/*' | sort"

func (c *cleanRoot) removed(record string) {
	c.t.Helper()
	before := c.run(record)
	c.run("apt-get remove -y stepgate")
	c.want(record, strings.TrimSpace(before))
	c.want(left, strings.Join([]string{
		"/etc/stepgate", "/etc/systemd/system/multi-user.target.wants/stepgate.service", "/etc/systemd/system/stepgate.service.d",
		"/var/lib/dpkg/info/stepgate.list", "/var/lib/dpkg/info/stepgate.postrm", "/var/lib/stepgate",
		"/var/lib/systemd/deb-systemd-helper-enabled/multi-user.target.wants/stepgate.service",
		"/var/lib/systemd/deb-systemd-helper-enabled/stepgate.service.dsh-also"}, "\n"))
}

// purged: what is the clinic's stays and is named; what is the package's goes.
// An empty folder is nobody's.
func (c *cleanRoot) purged(record string) {
	c.t.Helper()
	before := c.run(record)
	out := c.run("apt-get purge -y stepgate 2>&1")
	for _, dir := range []string{"/var/lib/stepgate", "/etc/stepgate"} {
		if line := fmt.Sprintf("stepgate: %s is kept, with the clinic's files in it. To delete it: rm -r %[1]s\n", dir); !strings.Contains(out, line) {
			c.t.Errorf("purge does not say %q:\n%s", line, out)
		}
	}
	c.want(record, strings.TrimSpace(before))
	c.want(left, "/etc/stepgate\n/etc/systemd/system/stepgate.service.d\n/var/lib/stepgate")
	// Installed anew, it finds the clinic as it was.
	c.run("dpkg --install /next.deb")
	c.want("systemctl is-enabled stepgate", "enabled")
	c.want(record, strings.TrimSpace(before))
	c.serves()
	c.run("rm -r /var/lib/stepgate/* /etc/stepgate/* /etc/systemd/system/stepgate.service.d")
	if out := c.run("dpkg --purge stepgate 2>&1"); strings.Contains(out, "is kept") {
		c.t.Errorf("purge keeps folders with nothing in them:\n%s", out)
	}
	c.want(left, "")
}
