" Colours for the logs of loomslate. Made by python -m grammar.highlighting
" Copy it to ~/.vim/syntax and say :set syntax=loomslate
if exists("b:current_syntax")
  finish
endif
scriptencoding utf-8
syntax case ignore
syntax match loomslateDay /\v^\s*%(day)%([.,:]*%(\s|;|$))@=/ nextgroup=loomslateDate skipwhite
syntax match loomslateDate /\v[0-9]{4}-[0-9]{2}-[0-9]{2}/ contained skipwhite nextgroup=loomslateShift
syntax match loomslateShift /\v[^[:space:];]+/ contained skipwhite nextgroup=loomslateBywhom
syntax match loomslateBywhom /\v%(by)%([.,:]*%(\s|;|$))@=/ contained
highlight default link loomslateBywhom Special
syntax match loomslateTime /\v^\s*%([0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:=[0-9]{2}%(:[0-9]{2})=%(Z|[+-][0-9]{2}:=[0-9]{2})=|[0-9]{1,2}:[0-9]{2}|[0-9]{4})%([.,]=\s)@=/ nextgroup=loomslatePlace,loomslateMark skipwhite
syntax match loomslateMark /[.,]/ contained skipwhite nextgroup=loomslatePlace
syntax match loomslatePlace /\v[^[:space:];]+/ contained skipwhite nextgroup=loomslateParted,@loomslateClause
syntax match loomslateComment /^#.*$/
syntax match loomslateParted /;[; \t]*/ contained nextgroup=@loomslateClause
syntax match loomslateAmount /\v%([0-9A-Za-z_.,-])@1<![-−]=[0-9][0-9.,]*\s*%(in\.lbf|in·lbf|in⋅lbf|kgf\.cm|kgf·cm|kgf⋅cm|lbf\.in|lbf·in|lbf⋅in|1\/min|m\/min|picks|N\.cm|N·cm|N⋅cm|cN\.m|cN·m|cN⋅m|degC|N\s+m|N\.m|Ncm|N·m|N⋅m|bar|cNm|deg|kPa|kgf|min|psi|rpm|Hz|Nm|in|mm|um|°C|μm|\%|N|h|°)%([0-9A-Za-z_\/°]|[.·⋅][0-9A-Za-z_])@!/ contained
syntax cluster loomslateValues contains=loomslateAmount
syntax region loomslateMeasuredClause start=/\v[^[:space:];]@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues,loomslateMeasuredWord nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateMeasuredClause
syntax match loomslateMeasuredWord /\v%(\k|-)@1<!%(gauge|enters|stays\s+out)%([.,:]*%(\s|;|$))@=/ contained
highlight default link loomslateMeasuredWord Special
syntax region loomslateStoppedClause matchgroup=loomslateKey start=/\v%(stopped)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateStoppedClause
syntax region loomslateRunningClause matchgroup=loomslateKey start=/\v%(running)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateRunningClause
syntax region loomslateFaultClause matchgroup=loomslateKey start=/\v%(fault)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateFaultClause
syntax region loomslateReplacedClause matchgroup=loomslateKey start=/\v%(replaced)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues,loomslateReplacedWord nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateReplacedClause
syntax match loomslateReplacedWord /\v%(\k|-)@1<!%(worn|broken|early)%([.,:]*%(\s|;|$))@=/ contained
highlight default link loomslateReplacedWord Special
syntax region loomslateAdjustedClause matchgroup=loomslateKey start=/\v%(adjusted)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateAdjustedClause
syntax region loomslateRepairedClause matchgroup=loomslateKey start=/\v%(repaired)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateRepairedClause
syntax region loomslateCleanedClause matchgroup=loomslateKey start=/\v%(cleaned)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateCleanedClause
syntax region loomslateGreasedClause matchgroup=loomslateKey start=/\v%(greased)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateGreasedClause
syntax region loomslateTightenedClause matchgroup=loomslateKey start=/\v%(tightened)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateTightenedClause
syntax region loomslateMovedClause matchgroup=loomslateKey start=/\v%(moved)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues,loomslateMovedWord nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateMovedClause
syntax match loomslateMovedWord /\v%(\k|-)@1<!%(from)%([.,:]*%(\s|;|$))@=/ contained
highlight default link loomslateMovedWord Special
syntax region loomslateTorqueClause matchgroup=loomslateKey start=/\v%(torque)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateTorqueClause
syntax region loomslateThreadlockedClause matchgroup=loomslateKey start=/\v%(thread\-locked)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateThreadlockedClause
syntax region loomslateCheckedClause matchgroup=loomslateKey start=/\v%(checked)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues,loomslateCheckedWord nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateCheckedClause
syntax match loomslateCheckedWord /\v%(\k|-)@1<!%(ok|bad)%([.,:]*%(\s|;|$))@=/ contained
highlight default link loomslateCheckedWord Special
syntax region loomslateBatchClause matchgroup=loomslateKey start=/\v%(batch)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateBatchClause
syntax region loomslateCounterClause matchgroup=loomslateKey start=/\v%(counter)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues,loomslateCounterWord nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateCounterClause
syntax match loomslateCounterWord /\v%(\k|-)@1<!%(new)%([.,:]*%(\s|;|$))@=/ contained
highlight default link loomslateCounterWord Special
syntax region loomslateStyleClause matchgroup=loomslateKey start=/\v%(style)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateStyleClause
syntax region loomslateOpenClause matchgroup=loomslateKey start=/\v%(open)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues,loomslateOpenNo nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateOpenClause
syntax match loomslateOpenNo /\v%(\k|-)@1<!%(no)\.=\s*[0-9]{1,9}\k@!/ contained contains=loomslateOpenNumber
syntax match loomslateOpenNumber /[0-9]\+/ contained
highlight default link loomslateOpenNo Special
highlight default link loomslateOpenNumber Number
syntax region loomslateDoneClause matchgroup=loomslateKey start=/\v%(done)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues,loomslateDoneTime,loomslateDoneNo nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateDoneClause
syntax match loomslateDoneTime /\v[0-9A-Za-z_:-]@1<!%([0-9]{4}-[0-9]{2}-[0-9]{2}\s+[0-9]{1,2}:=[0-9]{2}|%([0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:=[0-9]{2}%(:[0-9]{2})=%(Z|[+-][0-9]{2}:=[0-9]{2})=|[0-9]{1,2}:[0-9]{2}|[0-9]{4})|[0-9]{4}-[0-9]{2}-[0-9]{2})[0-9A-Za-z_:-]@!/ contained
highlight default link loomslateDoneTime Constant
syntax match loomslateDoneNo /\v%(\k|-)@1<!%(no)\.=\s*[0-9]{1,9}\k@!/ contained contains=loomslateDoneNumber
syntax match loomslateDoneNumber /[0-9]\+/ contained
highlight default link loomslateDoneNo Special
highlight default link loomslateDoneNumber Number
syntax region loomslateDroppedClause matchgroup=loomslateKey start=/\v%(dropped)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues,loomslateDroppedTime,loomslateDroppedNo nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateDroppedClause
syntax match loomslateDroppedTime /\v[0-9A-Za-z_:-]@1<!%([0-9]{4}-[0-9]{2}-[0-9]{2}\s+[0-9]{1,2}:=[0-9]{2}|%([0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:=[0-9]{2}%(:[0-9]{2})=%(Z|[+-][0-9]{2}:=[0-9]{2})=|[0-9]{1,2}:[0-9]{2}|[0-9]{4})|[0-9]{4}-[0-9]{2}-[0-9]{2})[0-9A-Za-z_:-]@!/ contained
highlight default link loomslateDroppedTime Constant
syntax match loomslateDroppedNo /\v%(\k|-)@1<!%(no)\.=\s*[0-9]{1,9}\k@!/ contained contains=loomslateDroppedNumber
syntax match loomslateDroppedNumber /[0-9]\+/ contained
highlight default link loomslateDroppedNo Special
highlight default link loomslateDroppedNumber Number
syntax region loomslateStruckClause matchgroup=loomslateKey start=/\v%(struck)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues,loomslateStruckTime nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateStruckClause
syntax match loomslateStruckTime /\v[0-9A-Za-z_:-]@1<!%([0-9]{4}-[0-9]{2}-[0-9]{2}\s+[0-9]{1,2}:=[0-9]{2}|%([0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:=[0-9]{2}%(:[0-9]{2})=%(Z|[+-][0-9]{2}:=[0-9]{2})=|[0-9]{1,2}:[0-9]{2}|[0-9]{4})|[0-9]{4}-[0-9]{2}-[0-9]{2})[0-9A-Za-z_:-]@!/ contained
highlight default link loomslateStruckTime Constant
syntax region loomslateByClause matchgroup=loomslateKey start=/\v%(by)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateByClause
syntax region loomslateDueClause matchgroup=loomslateKey start=/\v%(due)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues,loomslateDueWord,loomslateDueTime nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateDueClause
syntax match loomslateDueWord /\v%(\k|-)@1<!%(in|before\s+start)%([.,:]*%(\s|;|$))@=/ contained
highlight default link loomslateDueWord Special
syntax match loomslateDueTime /\v[0-9A-Za-z_:-]@1<!%([0-9]{4}-[0-9]{2}-[0-9]{2}\s+[0-9]{1,2}:=[0-9]{2}|%([0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:=[0-9]{2}%(:[0-9]{2})=%(Z|[+-][0-9]{2}:=[0-9]{2})=|[0-9]{1,2}:[0-9]{2}|[0-9]{4})|[0-9]{4}-[0-9]{2}-[0-9]{2})[0-9A-Za-z_:-]@!/ contained
highlight default link loomslateDueTime Constant
syntax region loomslateForClause matchgroup=loomslateKey start=/\v%(for)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateForClause
syntax region loomslateSealedClause matchgroup=loomslateKey start=/\v%(sealed)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateSealedClause
syntax region loomslateIsolatedbyClause matchgroup=loomslateIsolation start=/\v%(isolated\s+by)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateIsolatedbyClause
syntax region loomslateFaultclearedClause matchgroup=loomslateKey start=/\v%(fault\s+cleared)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues,loomslateFaultclearedWord nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateFaultclearedClause
syntax match loomslateFaultclearedWord /\v%(\k|-)@1<!%(all)%([.,:]*%(\s|;|$))@=/ contained
highlight default link loomslateFaultclearedWord Special
syntax region loomslateHandedoverClause matchgroup=loomslateKey start=/\v%(handed\s+over)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues,loomslateHandedoverWord nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateHandedoverClause
syntax match loomslateHandedoverWord /\v%(\k|-)@1<!%(to)%([.,:]*%(\s|;|$))@=/ contained
highlight default link loomslateHandedoverWord Special
syntax region loomslateStoppedforClause matchgroup=loomslateKey start=/\v%(stopped\s+for)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues,loomslateStoppedforWord nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateStoppedforClause
syntax match loomslateStoppedforWord /\v%(\k|-)@1<!%(fault|warp|weft|style|order|check|part|power|laid\-up|other)%([.,:]*%(\s|;|$))@=/ contained
highlight default link loomslateStoppedforWord Special
syntax region loomslateLockseenbyClause matchgroup=loomslateIsolation start=/\v%(lock\s+seen\s+by)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateLockseenbyClause
syntax region loomslateLockremovedbyClause matchgroup=loomslateIsolation start=/\v%(lock\s+removed\s+by)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues,loomslateLockremovedbyWord nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateLockremovedbyClause
syntax match loomslateLockremovedbyWord /\v%(\k|-)@1<!%(for)%([.,:]*%(\s|;|$))@=/ contained
highlight default link loomslateLockremovedbyWord Special
syntax region loomslateTakenoverbyClause matchgroup=loomslateKey start=/\v%(taken\s+over\s+by)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v;@=|$/ contained oneline keepend contains=@loomslateValues nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateTakenoverbyClause
syntax region loomslateNote matchgroup=loomslateKey start=/\v%(note)%([.,:]*%(\s|;|$))@=/ matchgroup=NONE end=/\v%(;\s*%(by)[,:]=\s+[^[:space:];]+\s*;=\s*$)@=|$/ contained oneline keepend nextgroup=loomslateParted
syntax cluster loomslateClause add=loomslateNote
highlight default link loomslateComment Comment
highlight default link loomslateDay Statement
highlight default link loomslateDate Constant
highlight default link loomslateShift Type
highlight default link loomslateTime Constant
highlight default link loomslatePlace Identifier
highlight default link loomslateKey Statement
highlight default link loomslateIsolation WarningMsg
highlight default link loomslateWord Special
highlight default link loomslateAmount Number
highlight default link loomslateNumber Number
highlight default link loomslateName Type
highlight default link loomslateNote String
let b:current_syntax = "loomslate"
