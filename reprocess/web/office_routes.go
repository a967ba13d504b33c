package web

import "handback/reprocess"

// office makes a row whose page is the office template.
func office(method, path string, who Who, handle func(*Visit) error) Route {
	return Route{Method: method, Path: path, Who: who, Page: "office", Sample: sampleOffice,
		Handle: handle}
}

// place makes a row that is a place.
func place(path, name, question string, who Who, handle func(*Visit) error) Route {
	r := office(get, path, who, handle)
	r.Place, r.Question = name, question
	return r
}

// officeRoutes are the rows of kits, supplies, labels, procedures, staff and settings.
func officeRoutes() []Route {
	var (
		lot, product, model = acts(reprocess.ActLot), acts(reprocess.ActProduct), acts(reprocess.ActModel)
		register, person    = acts(reprocess.ActRegister), acts(reprocess.ActPerson)
		print, bindAct      = acts(reprocess.ActLabel), acts(reprocess.ActLabelBind)
		opens, closes       = acts(reprocess.ActOpenContainer), acts(reprocess.ActCloseContainer)
		stop, lift          = acts(reprocess.ActLotStop), acts(reprocess.ActLotLift)
		signs, compose      = acts(reprocess.ActProcedure), acts(reprocess.ActCompose)
		settings            = acts(reprocess.ActSettings)
		phone, phoneEnd     = acts(reprocess.ActPhone), acts(reprocess.ActPhoneRevoke)
	)
	imports := office(post, "/kits/import", register, importKits)
	imports.Limit = mostCSV
	return []Route{
		place("/kits", "Kits", "Where is which kit?", signedIn, showKits),
		office(get, "/kits/new", register, showNewKit),
		office(post, "/kits/new", register, registerKit),
		office(get, "/kits/import", register, showImport),
		imports,
		{Method: get, Path: "/kits/template", Who: register, Handle: kitsTemplate},
		office(get, "/kits/spare/:kind", register, showSpare),
		office(post, "/kits/spare/:kind", register, registerSpare),
		office(get, "/kits/:id/compose", compose, showCompose),
		office(post, "/kits/:id/compose", compose, composeKit),

		place("/supplies", "Supplies", "Which container is used first?", signedIn, showSupplies),
		office(get, "/containers/open", opens, showOpenContainer),
		office(post, "/containers/open", opens, openContainer),
		office(get, "/container/:id", signedIn, showContainer),
		office(post, "/container/:id/close", closes, closeContainer),
		office(post, "/container/:id/reopen", acts(reprocess.ActContainerBack), reopenContainer),
		office(get, "/lots", signedIn, showLots),
		office(get, "/lots/new", lot, showNewLot),
		office(post, "/lots/new", lot, setLot),
		office(get, "/lot/:id", signedIn, showLot),
		office(get, "/lot/:id/correct", lot, showLotCorrection),
		office(post, "/lot/:id/correct", lot, setLot),
		office(get, "/lot/:id/stop", stop, showLotStop),
		office(post, "/lot/:id/stop", stop, stopLot),
		office(post, "/lot/:id/used-up", acts(reprocess.ActLotEnd), endLot),
		office(post, "/lot/:id/resume", acts(reprocess.ActLotResume), resumeLot),
		office(get, "/lot/:id/lift", lift, showLotLift),
		office(post, "/lot/:id/lift", lift, liftLot),
		office(get, "/products", signedIn, showProducts),
		office(get, "/products/new", product, showNewProduct),
		office(post, "/products/new", product, setProduct),
		office(get, "/product/:id", signedIn, showProduct),
		office(get, "/product/:id/change", product, showProductChange),
		office(post, "/product/:id/change", product, setProduct),

		place("/labels", "Labels", "What is printed?", print, showLabels),
		office(get, "/labels/kits", print, showLabelKits),
		office(post, "/labels/kits", bindAct, labelKits),
		office(get, "/labels/blanks", print, showBlanks),
		office(post, "/labels/blanks", print, makeBlanks),
		office(get, "/labels/print", print, showPrint),
		office(get, "/labels/sheet.pdf", print, sheetPDF),
		office(get, "/labels/kit/:id", print, showKitLabels),
		office(get, "/labels/container/:id", print, showContainerLabel),
		office(post, "/labels/again/:kind/:id", bindAct, reissue),
		office(get, "/label/:code", print, showOneLabel),
		office(get, "/label/:code/bind", bindAct, showBind),
		office(post, "/label/:code/bind", bindAct, bind),
		office(get, "/label/:code/:file", print, labelFile),

		place("/procedures", "Procedures", "What does each model need?", signedIn, showProcedures),
		office(get, "/procedures/:model", signedIn, showProcedure),
		office(get, "/procedures/:model/next", signs, showNextProcedure),
		office(post, "/procedures/:model/next", signs, approveProcedure),
		office(get, "/models", model, showModels),
		office(get, "/models/new", model, showNewModel),
		office(post, "/models/new", model, setModel),
		office(get, "/models/:id", model, showModel),
		office(post, "/models/:id", model, setModel),

		place("/staff", "Staff", "Who works here?", person, showStaff),
		office(get, "/staff/new", person, showNewPerson),
		office(post, "/staff/new", person, addPerson),
		office(get, "/staff/rights", person, showRights),
		office(get, "/staff/:id", person, showPerson),
		office(post, "/staff/:id", person, changePerson),
		office(get, "/staff/:id/secret", acts(reprocess.ActSecretReset), showResetSecret),
		office(post, "/staff/:id/secret", acts(reprocess.ActSecretReset), resetSecret),
		office(post, "/staff/:id/competence", person, addCompetence),
		office(post, "/staff/:id/competence-end", person, endCompetence),
		office(get, "/phones", phone, showPhones),
		office(post, "/phones/invite", phone, invitePhone),
		office(post, "/phones/this", phone, enrolThisPhone),
		office(get, "/phones/:id", phoneEnd, showPhoneEnd),
		office(post, "/phones/:id", phoneEnd, endPhone),

		place("/settings", "Settings", "How is this clinic set up?", settings, showSettings),
		office(post, "/settings", settings, setSettings),
	}
}

// slipWho makes slips: whoever may give a code its target.
func slipWho() Who { return acts(reprocess.ActLabelBind) }
