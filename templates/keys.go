package templates

import (
	"slices"

	"stepgate/rules"
)

// The keys that every language must have a template for. A test compares the
// lists with the constants of package rules.

// parts are the parts of an answer, in the order in which they are said.
var parts = []rules.Part{
	rules.SayEmergency, rules.SayUrgent, rules.SayClinic, rules.SayPause, rules.SayStepBack,
	rules.SayHold, rules.SaySkin, rules.SayStillPaused, rules.SayClearing, rules.SayScore,
	rules.SayFirstStep, rules.SayDone, rules.SaySome, rules.SayWear, rules.SayAskNumber,
	rules.SayWhyNot, rules.SayAway, rules.SayAwayLong, rules.SayHow, rules.SayNoHow,
	rules.SayCall, rules.SayAskStop, rules.SayPassedOn, rules.SayUnread, rules.SayNotYet,
	rules.SaySkinOK, rules.SayLost, rules.SayEnded, rules.SayWrong, rules.SayStranger, rules.SayStopped, rules.SayStarted, rules.SayHelp,
}

var codes = []rules.Code{
	rules.FirstDay, rules.NotBegun, rules.Paused, rules.StepBack, rules.BlockAgain,
	rules.PainHeld, rules.ClinicHeld, rules.AwayCode, rules.OptedOut, rules.Suspended,
	rules.NoConsent, rules.Unheard, rules.NotSent, rules.Capped, rules.Waiting,
	rules.TableEnd, rules.Tick, rules.Break, rules.Lost, rules.Review, rules.FirstRise,
	rules.Finished, rules.Discharged, rules.Released,
	rules.WearNone, rules.SkinOut, rules.SkinBack, rules.SkinWaits, rules.NotToday,
	rules.WoreLittle, rules.WearQuiet, rules.WearFull, rules.SkinStop, rules.SkinCheck,
	rules.DeviceAway, rules.DeviceNew,
}

var notices = []rules.NoticeKind{
	rules.NoticeRedFlag, rules.NoticeUsual, rules.NoticeDenied, rules.NoticePause, rules.NoticeSkin,
	rules.NoticeCall, rules.NoticeWrong, rules.NoticeOptOut, rules.NoticeOptIn,
	rules.NoticeUnread, rules.NoticeAskStop, rules.NoticeSilent, rules.NoticeLost,
	rules.NoticeBack, rules.NoticeFirstRise, rules.NoticeReview, rules.NoticeVisit, rules.NoticeFinished, rules.NoticeHeldLong,
	rules.NoticeSecondBack, rules.NoticeContact, rules.NoticeUndelivered, rules.NoticeByMail, rules.NoticeUnknownSent,
	rules.NoticeStranger, rules.NoticeGone, rules.NoticeBadFiles, rules.NoticeSender,
}

var states = []rules.InState{
	rules.InDischarged, rules.InFinished, rules.InOptedOut, rules.InSuspended,
	rules.InPaused, rules.InAway, rules.InEased, rules.InHeld, rules.InWaiting,
	rules.InMaintenance, rules.InActive,
}

// textKeys are the templates of plain text; mailKeys those of HTML.
func textKeys() []string {
	keys := []string{
		"daily", "first", "greet", "greet/for", "from", "note", "dose", "dose/full", "amount", "form", "all alike",
		"all sessions", "support", "wear", "skin", "ask", "subject/daily", "visit", "subject/visit",
		"contact/full", "contact/short", "no exercises", "part/how list", "then ask", "caution",
		"subject/answer", "subject/alert", "alert", "alert/brief", "entry by", "state", "tap", "paused", "subject/paused",
		"subject/alerts", "alerts/lead", "alerts/head", "alerts/answers", "alerts/how", "alerts/brief", "subject/alert page",
		"subject/answered", "answered", "answered/line", "subject/link",
		"subject/digest", "digest/week", "digest/look", "digest/held", "digest/silent", "digest/review",
		"digest/rest", "digest/standing", "digest/done", "digest/row", "digest/brief",
		"explain/reports", "explain/none", "explain/why", "explain/days", "explain/wear",
	}
	keys = append(keys, handoutKeys()...)
	for _, p := range parts {
		keys = append(keys, "part/"+string(p))
	}
	for _, c := range codes {
		keys = append(keys, "why/"+string(c), "ends/"+string(c))
	}
	for _, n := range notices {
		keys = append(keys, "short/"+string(n), "what/"+string(n), "did/"+string(n), "do/"+string(n))
	}
	for _, kinds := range entriesFor {
		for _, k := range kinds {
			if key := "entry/" + string(k); !slices.Contains(keys, key) {
				keys = append(keys, key)
			}
		}
	}
	for _, c := range commands {
		keys = append(keys, "command/"+c, "answered/"+c)
	}
	keys = append(keys, "answered/hold until")
	for _, k := range readKeys {
		keys = append(keys, "read/"+k)
	}
	for _, s := range states {
		keys = append(keys, "state/"+string(s))
	}
	return keys
}

func mailKeys() []string {
	return []string{"mail/daily", "mail/answer", "mail/alert", "mail/alerts", "mail/digest", "page/link", "page/alert"}
}
