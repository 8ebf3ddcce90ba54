package main

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"stepgate/rules"
)

// idle measures the real service with a thousand enrolled and nothing to do,
// after its first look at everything. Their first date is the day after tomorrow:
// otherwise what is measured depends on the hour, as a start in the texting hours
// sends everybody their text.
func (b *bench) idle(ctx context.Context) ([]row, error) {
	binary, dir := filepath.Join(b.dir, "stepgate"), filepath.Join(b.dir, "clinic")
	if err := folder(dir, 1000, rules.DateOf(time.Now())+2); err != nil {
		return nil, err
	}
	if out, err := exec.CommandContext(ctx, "go", "build", "-o", binary, "./cmd/stepgate").CombinedOutput(); err != nil {
		return nil, fmt.Errorf("build: %w: %s", err, out)
	}
	cmd, err := started(ctx, binary, dir, "msg=files.accepted")
	if err != nil {
		return nil, err
	}
	rest := time.Duration(b.sized(90, 5)) * time.Second
	time.Sleep(2 * time.Second) // what a start leaves to do
	pid := strconv.Itoa(cmd.Process.Pid)
	before := processor(pid)
	time.Sleep(rest)
	used, resident, anon := processor(pid)-before, memory(pid, "VmRSS:"), anonymous(pid)
	if err := ended(cmd); err != nil {
		return nil, err
	}
	share := used.Seconds() / rest.Seconds()
	return []row{{
		Name: "idle memory", What: "serve with 1,000 enrolled and nothing to do: resident, of it anonymous " + mebibytes(anon),
		Figure: mebibytes(resident), Target: "under 40 MiB", Met: resident < 40<<20,
	}, {
		Name: "idle cpu", What: fmt.Sprintf("the same, of one core over %s, ticks and looks at the spool included", rest),
		Figure: fmt.Sprintf("%.2f %%", 100*share), Target: "not measurable: under 1 %", Met: share < 0.01,
	}}, nil
}

// started runs serve until it logs a line.
func started(ctx context.Context, binary, dir, line string) (*exec.Cmd, error) {
	cmd := exec.CommandContext(ctx, binary, "serve", dir)
	cmd.Cancel = func() error { return cmd.Process.Signal(os.Interrupt) }
	log, err := cmd.StderrPipe()
	if err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	lines := bufio.NewScanner(log)
	for lines.Scan() {
		if strings.Contains(lines.Text(), line) {
			go func() {
				for lines.Scan() { // so that the service can go on logging
				}
			}()
			return cmd, nil
		}
	}
	return nil, fmt.Errorf("serve ended without a line %s: %w", line, cmd.Wait())
}

func ended(cmd *exec.Cmd) error {
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		return err
	}
	return cmd.Wait()
}

// processor is a process's processor time so far; the kernel counts it in
// hundredths of a second.
func processor(pid string) time.Duration {
	text, err := os.ReadFile("/proc/" + pid + "/stat")
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(text), ") ") // the name may hold blanks
	fields := strings.Fields(rest)
	if len(fields) < 13 {
		return 0
	}
	user, _ := strconv.Atoi(fields[11])
	system, _ := strconv.Atoi(fields[12])
	return time.Duration(user+system) * 10 * time.Millisecond
}
