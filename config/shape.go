package config

// The shape of the three kinds of file. The koanf tags are the keys a file
// may hold, and no others are accepted; placeKey is filled by the walker. The
// other tags are for the schema that editors use, see schema.go: need marks a
// key that is always asked for, of names the words it can be, help says what
// it is. This file has the clinic's settings.

type settingsShape struct {
	At      Place         `koanf:"@"`
	Clinic  clinicShape   `koanf:"clinic" need:"yes" help:"who the clinic is, as the texts say it"`
	Texting textingShape  `koanf:"texting" help:"local hours outside which no proactive message goes out"`
	Grace   Value         `koanf:"grace" help:"how long a decision waits for incoming messages to be read"`
	Data    Value         `koanf:"data" help:"folder of the journal"`
	Alerts  *alertsShape  `koanf:"alerts" need:"yes" help:"where the clinician is told"`
	Admin   *contactShape `koanf:"admin" help:"who is told of trouble with accounts and files, if not the clinician"`
	Digest  Value         `koanf:"digest" help:"when the digest goes out, as a cron line of five fields, or off"`
	Web     *webShape     `koanf:"web" help:"the pages that links in mails lead to"`
	Backup  *backupsShape `koanf:"backup" help:"where copies of the journal go, and when"`
	Keep    Value         `koanf:"keep discharged" help:"how long after a discharge a patient is erased, such as 2 years; never, if not said"`
	Metrics Value         `koanf:"metrics" help:"host and port on this machine where monitoring reads the figures, such as 127.0.0.1:9464"`
	Reports Value         `koanf:"reports" help:"host and port on this machine where a browser shows the caseload and the patients' reports, such as 127.0.0.1:8091, to everybody with an account on the machine; off, if not said"`
	Spool   spoolShape    `koanf:"spool" help:"the channel made of folders, for trying things out"`
	SMS     *smsShape     `koanf:"sms" help:"the carrier account"`
	Email   *emailShape   `koanf:"email" help:"the mail server"`
}

type clinicShape struct {
	At         Place `koanf:"@"`
	Name       Value `koanf:"name" need:"yes" help:"the name in the texts"`
	Phone      Value `koanf:"phone" need:"yes" help:"the number patients call in opening hours"`
	Hours      Value `koanf:"hours" need:"yes" help:"the opening hours, as people read them"`
	AfterHours Value `koanf:"after hours" need:"yes" help:"the number patients call when the clinic is closed"`
	Emergency  Value `koanf:"emergency" need:"yes" help:"the emergency number of the place"`
	Zone       Value `koanf:"zone" need:"yes" help:"time zone, such as America/New_York"`
	Language   Value `koanf:"language" of:"languages" help:"language of patients who name none"`
}

type textingShape struct {
	At   Place `koanf:"@"`
	From Value `koanf:"from" help:"first time of day, such as \"08:00\""`
	To   Value `koanf:"to" help:"time of day it ends, such as \"21:00\""`
}

type contactShape struct {
	At    Place `koanf:"@"`
	Spool Value `koanf:"spool" help:"a name on the spool"`
	SMS   Value `koanf:"sms" help:"a phone number with + and country code"`
	Email Value `koanf:"email" help:"a mail address"`
}

// alertsShape has the keys of [contactShape] and what else holds for alerts.
type alertsShape struct {
	At     Place            `koanf:"@"`
	Spool  Value            `koanf:"spool" help:"a name on the spool"`
	SMS    Value            `koanf:"sms" help:"a phone number with + and country code"`
	Email  Value            `koanf:"email" help:"a mail address"`
	Backup *contactShape    `koanf:"backup" help:"who is told too once nobody acknowledged an alert"`
	Hours  *alertHoursShape `koanf:"hours" help:"when alerts that can wait go out"`
	Cover  []coverShape     `koanf:"cover" help:"dates on which alerts go to someone else"`
}

type alertHoursShape struct {
	At   Place     `koanf:"@"`
	Days OneOrMore `koanf:"days" help:"days of the week, such as mon-fri or [mon, thu]"`
	From Value     `koanf:"from" help:"first time of day, such as \"09:00\""`
	To   Value     `koanf:"to" help:"time of day it ends, such as \"17:00\""`
}

type coverShape struct {
	At    Place `koanf:"@"`
	From  Value `koanf:"from" need:"yes" help:"the first date"`
	To    Value `koanf:"to" need:"yes" help:"the last date"`
	Spool Value `koanf:"spool" help:"a name on the spool"`
	SMS   Value `koanf:"sms" help:"a phone number with + and country code"`
	Email Value `koanf:"email" help:"a mail address"`
}

type webShape struct {
	At          Place     `koanf:"@"`
	Listen      Value     `koanf:"listen" need:"yes" help:"host and port to listen on"`
	Public      Value     `koanf:"public" need:"yes" help:"web address under which people reach it"`
	Certificate Value     `koanf:"certificate" help:"file of its own certificate, if no reverse proxy stands before it"`
	Key         SecretRef `koanf:"key" help:"file of the certificate's private key: {file: PATH}"`
}

type backupsShape struct {
	At        Place `koanf:"@"`
	Dir       Value `koanf:"dir" need:"yes" help:"folder of the copies"`
	Time      Value `koanf:"at" help:"when one is made, as a cron line of five fields"`
	Keep      Value `koanf:"keep" help:"how many of the newest are kept"`
	EncryptTo Value `koanf:"encrypt to" help:"public age key that they are encrypted to"`
}

type spoolShape struct {
	At  Place `koanf:"@"`
	Dir Value `koanf:"dir" help:"folder of the spool"`
}

type smsShape struct {
	At          Place         `koanf:"@"`
	Account     Value         `koanf:"account" need:"yes" help:"the account SID"`
	Token       SecretRef     `koanf:"token" need:"yes" help:"where the auth token is kept: {env: NAME} or {file: PATH}"`
	From        Value         `koanf:"from" help:"the number the texts come from"`
	Numbers     []numberShape `koanf:"numbers" help:"the numbers the texts come from, where there are several"`
	Rate        Value         `koanf:"rate" help:"segments a second that a number may send"`
	DailyCap    Value         `koanf:"daily cap" help:"segments a day that the number may send"`
	API         Value         `koanf:"api" help:"base address of the API, if not the usual one"`
	Poll        Value         `koanf:"poll" help:"how often the carrier's list of messages is read, such as 1m"`
	LookAgain   Value         `koanf:"look again" help:"how long until a list that lacks a message is read again, before the message goes out again"`
	Listen      Value         `koanf:"listen" help:"host and port to listen on for what the carrier tells; without it its lists are read"`
	Public      Value         `koanf:"public" help:"web address under which the carrier reaches it"`
	Content     Value         `koanf:"content" of:"retain" help:"tell the carrier to keep the texts"`
	Addresses   Value         `koanf:"addresses" of:"retain" help:"tell the carrier to keep the numbers"`
	Accents     Value         `koanf:"accents" of:"accents" help:"drop or keep the accents that need longer texts"`
	StopReply   Value         `koanf:"stop reply" of:"stop reply" help:"who answers STOP and START"`
	Undelivered Value         `koanf:"undelivered" help:"days running without a delivered text until another way is taken, such as 2 days"`
}

// numberShape is one of several numbers.
type numberShape struct {
	At       Place `koanf:"@"`
	From     Value `koanf:"from" need:"yes" help:"the number"`
	Rate     Value `koanf:"rate" help:"segments a second that it may send"`
	DailyCap Value `koanf:"daily cap" help:"segments a day that it may send"`
}

type emailShape struct {
	At       Place      `koanf:"@"`
	Host     Value      `koanf:"host" need:"yes" help:"the server's name"`
	Port     Value      `koanf:"port" help:"its port, if not the usual one"`
	From     Value      `koanf:"from" need:"yes" help:"the address the mails come from"`
	User     Value      `koanf:"user" help:"user name"`
	Password SecretRef  `koanf:"password" help:"where the password is kept: {env: NAME} or {file: PATH}"`
	TLS      Value      `koanf:"tls" of:"tls" help:"starttls, tls, or none on this machine"`
	IMAP     *imapShape `koanf:"imap" help:"the mailbox that answers arrive in"`
	Poll     Value      `koanf:"poll" help:"how often the mailbox is read, such as 1m"`
	DKIM     *dkimShape `koanf:"dkim" help:"the signature on every mail"`
}

type imapShape struct {
	At       Place     `koanf:"@"`
	Host     Value     `koanf:"host" need:"yes" help:"the server's name"`
	Port     Value     `koanf:"port" help:"its port, if not the usual one"`
	User     Value     `koanf:"user" need:"yes" help:"user name"`
	Password SecretRef `koanf:"password" need:"yes" help:"where the password is kept: {env: NAME} or {file: PATH}"`
	TLS      Value     `koanf:"tls" of:"tls" help:"tls, starttls, or none on this machine"`
	Folder   Value     `koanf:"folder" help:"the folder that is read, if not INBOX"`
}

type dkimShape struct {
	At       Place     `koanf:"@"`
	Domain   Value     `koanf:"domain" need:"yes" help:"the domain that signs"`
	Selector Value     `koanf:"selector" need:"yes" help:"the selector its public key is published under"`
	Key      SecretRef `koanf:"key" need:"yes" help:"where the private key is kept: {env: NAME} or {file: PATH}"`
}
