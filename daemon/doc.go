// Package daemon is the running service: the clock, the due work, sending,
// replies, reload and health.
//
// cron only ticks here, in UTC; who is due comes from the local date and the
// journal. Every decision is made by package rules, every word by package
// templates, every contact with the outside by package notify, every byte on
// disk by daemon/journal.
package daemon
