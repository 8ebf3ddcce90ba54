// Command carrier is a stand-in for an SMS carrier, for trying out the way of
// texts without an account. It speaks the carrier's API to the service and
// lends each person a phone, see [phones]. Texts stay in its memory and go
// nowhere; it listens on this machine only and posts to this machine only. The
// service knows nothing of it: it is told another address of the API.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/signal"
	"regexp"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"stepgate/notify/carriertest"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// settings are the flags.
type settings struct {
	listen, account, token string
	numbers, dead          []string
	hook, public           string
	faults                 float64
	seed                   uint64
	deliver                time.Duration
}

// run is the command; 2 is for wrong use, 1 for what could not be done.
func run(ctx context.Context, args []string, out, errOut io.Writer) int {
	var s settings
	bad := true // until the flags are found good
	cmd := &cobra.Command{
		Use:   "carrier",
		Short: "A stand-in for an SMS carrier, for trying out: it sends nothing anywhere",
		Example: "  carrier --from +15035550100\n" +
			"  carrier --from +15035550100 --hook http://127.0.0.1:8090/in --public https://texts.example.org/in\n" +
			"  carrier --from +15035550100 --faults 0.1 --seed 7   # and fail one request in ten",
		Args:          cobra.NoArgs,
		SilenceErrors: true,
		SilenceUsage:  true,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := s.check(); err != nil {
				return err
			}
			bad = false
			return s.serve(cmd.Context(), cmd.OutOrStdout())
		},
	}
	f := cmd.Flags()
	f.StringVar(&s.listen, "listen", "127.0.0.1:8099", "address to listen on, of this machine only")
	f.StringVar(&s.account, "account", "AC00000000000000000000000000000000", "SID of the one account")
	f.StringVar(&s.token, "token", "tryingout", "the account's auth token")
	f.StringSliceVar(&s.numbers, "from", nil, "the account's numbers, separated by commas (default any)")
	f.StringSliceVar(&s.dead, "dead", nil, "numbers that no text reaches")
	f.StringVar(&s.hook, "hook", "", "where on this machine the service's web hook is")
	f.StringVar(&s.public, "public", "", "the web hook's public address, which its signature covers")
	f.Float64Var(&s.faults, "faults", 0, "share of the requests to fail, from 0 to 1")
	f.Uint64Var(&s.seed, "seed", 1, "which faults they are")
	f.DurationVar(&s.deliver, "deliver", 2*time.Second, "how long delivery takes")
	cmd.SetArgs(args)
	cmd.SetOut(out)
	cmd.SetErr(errOut)
	switch err := cmd.ExecuteContext(ctx); {
	case err == nil:
		return 0
	case bad:
		fmt.Fprintf(errOut, "carrier: %v\nRun carrier --help for the flags.\n", err)
		return 2
	default:
		fmt.Fprintf(errOut, "carrier: %v\n", err)
		return 1
	}
}

var (
	e164  = regexp.MustCompile(`^\+[1-9][0-9]{6,14}$`)
	alnum = regexp.MustCompile(`^[A-Za-z0-9]+$`)
)

func (s *settings) check() error {
	for _, n := range append(s.numbers, s.dead...) {
		if !e164.MatchString(n) {
			return fmt.Errorf("a number is written like +15035550100, not %q", n)
		}
	}
	host, _, err := net.SplitHostPort(s.listen)
	switch {
	case err != nil || !loopback(host):
		return errors.New("--listen wants an address of this machine only, such as 127.0.0.1:8099")
	case !alnum.MatchString(s.account) || !alnum.MatchString(s.token):
		return errors.New("--account and --token are letters and digits")
	case s.faults < 0 || s.faults > 1:
		return errors.New("--faults wants a share from 0 to 1")
	case s.deliver < 0:
		return errors.New("--deliver wants a time such as 2s")
	case (s.hook == "") != (s.public == ""):
		return errors.New("--hook and --public go together")
	case s.hook == "":
		return nil
	}
	hook, err1 := url.Parse(s.hook)
	public, err2 := url.Parse(s.public)
	switch {
	case err1 != nil || err2 != nil || public.Host == "":
		return errors.New("--hook and --public want addresses such as http://127.0.0.1:8090/in and https://texts.example.org/in")
	case hook.Scheme != "http" || !loopback(hook.Hostname()):
		return errors.New("--hook wants an address on this machine, such as http://127.0.0.1:8090/in")
	case hook.Path != public.Path:
		return errors.New("--hook and --public want the same path")
	}
	return nil
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// serve runs the stand-in until ctx is done.
func (s *settings) serve(ctx context.Context, out io.Writer) error {
	carrier := carriertest.Make(s.account, s.token)
	defer carrier.Close()
	carrier.SetNumbers(s.numbers...)
	carrier.SetDelivery(carriertest.Delivery{Status: "delivered", Wait: s.deliver / 2}) // two steps
	for _, n := range s.dead {
		// 30003: unreachable (the carrier's published error list).
		carrier.SetDeliveryTo(n, carriertest.Delivery{Status: "undelivered", Code: 30003, Wait: s.deliver / 2})
	}
	if s.faults > 0 {
		carrier.Faulty(s.seed, s.faults, append(carriertest.Usual(), carriertest.Hang())...)
	}
	if s.hook != "" {
		if err := carrier.Route(s.public, s.hook); err != nil {
			return err
		}
		carrier.SetHook(s.public)
	}
	l, err := net.Listen("tcp", s.listen)
	if err != nil {
		return fmt.Errorf("listen: %w", err)
	}
	mux := http.NewServeMux()
	mux.Handle("/", carrier.Handler())
	newPhones(carrier, s.numbers, s.dead).register(mux)
	server := &http.Server{Handler: mux, ReadHeaderTimeout: 10 * time.Second}
	stop := context.AfterFunc(ctx, func() { _ = server.Close() })
	defer stop()
	s.greet(out, "http://"+l.Addr().String())
	if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serve: %w", err)
	}
	return nil
}

func (s *settings) greet(out io.Writer, address string) {
	fmt.Fprintf(out, "Stand-in carrier at %s, for trying out: texts stay in its memory and nothing is sent anywhere.\n", address)
	fmt.Fprintf(out, "In stepgate.yaml, under sms:\n  account: %s\n  api: %s\n", s.account, address)
	fmt.Fprintf(out, "Its auth token is %s.\n", s.token)
	if s.faults > 0 {
		fmt.Fprintf(out, "It fails %g of all requests, by seed %d.\n", s.faults, s.seed)
	}
	fmt.Fprintf(out, "A person's phone: stepgate handset --carrier %s +15035550120. Stop with Ctrl-C.\n", address)
}
