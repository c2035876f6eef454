-- Made by the program of 602ce15 (`demo-history`): two of its invented sessions of a simulated animal, with their rows as it showed them.
INSERT INTO "animal" VALUES(1,X'01A0729F80F870008000000000000001','Pepino','cockatiel',NULL);
INSERT INTO "animal_name" VALUES(1,'Pepino',1788629451000000);
INSERT INTO "plan_version" VALUES(1,1,'rests a foot on the nail file','demo/pepino.toml','# An invented example: Pepino, a cockatiel, learns to rest a foot on a nail file. There is no such bird.
# Copy this file, change what you like, and train with it: hushtally listen my-plan.toml
# Everything but animal, species, behaviour and one step may be left out.
#
# Before you train anything like it: have a veterinarian who knows birds look at feet and nails first, and
# leave real clipping to someone who was shown how. Blood, limping, plucking, or a foot that is always
# spared: stop, and see the veterinarian. Where you live there may be rules about keeping and handling
# birds; they come before this plan.

animal = "Pepino"
species = "cockatiel"
behaviour = "rests a foot on the nail file"
note = "Invented. File lies flat on the perch; nobody reaches for the foot."

# The way to the goal, in small steps. A marker alone counts at the step being worked on; a number after it
# says which step was reached.
[[step]]
name = "looks at the file"

[[step]]
name = "steps towards the file"

[[step]]
name = "touches the file with a toe"

[[step]]
name = "rests the foot on the file"

[[step]]
name = "keeps the foot there"
dimension = "duration"
goal = 3.0          # seconds

[rewards]
low = { what = "a husked millet grain", kcal_per_piece = 0.02 }
high = { what = "a sunflower heart", kcal_per_piece = 0.2 }
jackpot = { what = "sunflower hearts", pieces = 4, kcal_per_piece = 0.2 }

[limits]
planned_minutes = 1.5        # birds stay keen in short sessions
planned_reps = 14
rate_floor_per_min = 10.0    # below this pace he would lose heart
rate_window_s = 20.0
treats_laid_out = 40

[body]
weight_g = 92.0
kind = "other_bird"
treat_share = 0.1            # of the day''s energy

# Your own words. Those you leave out stay as they are; `hushtally` knows English ones.
[words]
attention = "juniper"        # opens every command, so that no ordinary talk ends a session
marker = "yes"
# marker_sounds = ["clicker"]  # these mark too: "clicker" (a box clicker), "tongue_click", "whistle"
# others_near = true  # a bird that repeats the marker, a child, a radio: what is much softer than your tags is not sure
miss = "miss"
steps = ["one", "two", "three", "four", "five"]
low = "ordinary"
high = "bonus"
jackpot = "jackpot"
keen = "eager"
calm = "calm"
worried = "anxious"
tired = "tired"
cue = "signal"
hold_start = "steady"
take_back = "cancel"
change = "correction"
',X'4CE7D101B421A2EBD1C5EACF2942979051CED9CF368251AA6E140F02D0EB2698',1788629451000000);
INSERT INTO "plan_version" VALUES(2,1,'rests a foot on the nail file','demo/pepino.toml','# An invented example: Pepino, a cockatiel, learns to rest a foot on a nail file. There is no such bird.
# Copy this file, change what you like, and train with it: hushtally listen my-plan.toml
# Everything but animal, species, behaviour and one step may be left out.
#
# Before you train anything like it: have a veterinarian who knows birds look at feet and nails first, and
# leave real clipping to someone who was shown how. Blood, limping, plucking, or a foot that is always
# spared: stop, and see the veterinarian. Where you live there may be rules about keeping and handling
# birds; they come before this plan.

animal = "Pepino"
species = "cockatiel"
behaviour = "rests a foot on the nail file"
note = "Invented. File lies flat on the perch; nobody reaches for the foot."

# The way to the goal, in small steps. A marker alone counts at the step being worked on; a number after it
# says which step was reached.
[[step]]
name = "looks at the file"

[[step]]
name = "steps towards the file"

[[step]]
name = "touches the file with a toe"

[[step]]
name = "rests the foot on the file"

[[step]]
name = "keeps the foot there"
dimension = "duration"
goal = 3.0          # seconds

[rewards]
low = { what = "a husked millet grain", kcal_per_piece = 0.02 }
high = { what = "a fresh sunflower heart", kcal_per_piece = 0.2 }
jackpot = { what = "sunflower hearts", pieces = 4, kcal_per_piece = 0.2 }

[limits]
planned_minutes = 1.5        # birds stay keen in short sessions
planned_reps = 14
rate_floor_per_min = 10.0    # below this pace he would lose heart
rate_window_s = 20.0
treats_laid_out = 40

[body]
weight_g = 92.0
kind = "other_bird"
treat_share = 0.1            # of the day''s energy

# Your own words. Those you leave out stay as they are; `hushtally` knows English ones.
[words]
attention = "juniper"        # opens every command, so that no ordinary talk ends a session
marker = "yes"
# marker_sounds = ["clicker"]  # these mark too: "clicker" (a box clicker), "tongue_click", "whistle"
# others_near = true  # a bird that repeats the marker, a child, a radio: what is much softer than your tags is not sure
miss = "miss"
steps = ["one", "two", "three", "four", "five"]
low = "ordinary"
high = "bonus"
jackpot = "jackpot"
keen = "eager"
calm = "calm"
worried = "anxious"
tired = "tired"
cue = "signal"
hold_start = "steady"
take_back = "cancel"
change = "correction"
',X'BBEFA4239902356ECF10F5A8979F98931E0F2F6022A1EBE3AEAF58A19491C5E8',1792256630000000);
INSERT INTO "session" VALUES(34,X'01A1311CC7207000800000000000040F',1,1,'rests a foot on the nail file',5,'first invented trainer','living room',1791825332000000,'Etc/UTC',0,'2026-10-12','simulated',NULL,'simulated animal, 0.1.0');
INSERT INTO "session" VALUES(47,X'01A17E8F685070008000000000000587',1,2,'rests a foot on the nail file',5,'second invented trainer','kitchen',1793124690000000,'Etc/UTC',0,'2026-10-27','simulated',NULL,'simulated animal, 0.1.0');
INSERT INTO "event" VALUES(34,0,X'01A1311CC72070008000000000000410',0,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"command","command":"begin"},"words":"tally begin"}');
INSERT INTO "event" VALUES(34,1,X'01A1311CC72070008000000000000411',0,1791825332000000,'began','{"event":"began","step":5}');
INSERT INTO "event" VALUES(34,2,X'01A1311CC72070008000000000000412',774568223,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(34,3,X'01A1311CC72070008000000000000413',8064699579,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"rep"},"words":"yes"}');
INSERT INTO "event" VALUES(34,4,X'01A1311CC72070008000000000000414',13540900236,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(34,5,X'01A1311CC72070008000000000000415',18057218722,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"rep"},"words":"yes"}');
INSERT INTO "event" VALUES(34,6,X'01A1311CC72070008000000000000416',21622353843,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(34,7,X'01A1311CC72070008000000000000417',25114258504,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"miss"},"words":"miss"}');
INSERT INTO "event" VALUES(34,8,X'01A1311CC72070008000000000000418',26192117464,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(34,9,X'01A1311CC72070008000000000000419',28387645324,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"rep"},"words":"yes"}');
INSERT INTO "event" VALUES(34,10,X'01A1311CC7207000800000000000041A',32660234165,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(34,11,X'01A1311CC7207000800000000000041B',35087332845,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"rep","side":"right"},"words":"yes right"}');
INSERT INTO "event" VALUES(34,12,X'01A1311CC7207000800000000000041C',38842628547,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(34,13,X'01A1311CC7207000800000000000041D',49869137723,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"rep","step":5},"words":"yes five"}');
INSERT INTO "event" VALUES(34,14,X'01A1311CC7207000800000000000041E',53198428397,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(34,15,X'01A1311CC7207000800000000000041F',59732551722,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"rep"},"words":"yes"}');
INSERT INTO "event" VALUES(34,16,X'01A1311CC72070008000000000000420',60000000000,1791825332000000,'nudged','{"event":"nudged","nudge":"budget_low","reason":{"detector":"treats","because":"1.2 of the day''s 2.0 kcal in treats given","inputs":[{"name":"treats today","value":1.2,"unit":"kcal"},{"name":"the day''s budget for treats","value":1.9544597555061802,"unit":"kcal"},{"name":"speak up at","value":0.8,"unit":"kcal left"}],"method":"share of the daily energy need (allometric) that treats may take","source":"Small Animal Clinical Nutrition, 5th ed., table 5-2; Hand-Rearing Birds, 2nd ed., tables B.1 and B.2; share: WSAVA and AAHA, as stated in Veterinary Sciences 2025, 12:282. A veterinarian''s number comes first."}}');
INSERT INTO "event" VALUES(34,17,X'01A1311CC72070008000000000000421',64097906480,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(34,18,X'01A1311CC72070008000000000000422',68981240013,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"rep"},"words":"yes"}');
INSERT INTO "event" VALUES(34,19,X'01A1311CC72070008000000000000423',72517106240,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(34,20,X'01A1311CC72070008000000000000424',76370001412,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(34,21,X'01A1311CC72070008000000000000425',78121702280,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"rep"},"words":"yes"}');
INSERT INTO "event" VALUES(34,22,X'01A1311CC72070008000000000000426',81000000000,1791825332000000,'nudged','{"event":"nudged","nudge":"end_soon","reason":{"detector":"planned end","because":"81 of 90 planned seconds","inputs":[{"name":"active time","value":81.0,"unit":"s"},{"name":"planned time","value":90.0,"unit":"s"},{"name":"rewarded reps","value":8.0,"unit":""},{"name":"planned reps","value":14.0,"unit":""}],"method":"share of the planned (or learnt) time or of the planned reps, whichever is further","source":"common practice, no source"}}');
INSERT INTO "event" VALUES(34,23,X'01A1311CC72070008000000000000427',82540009366,1791825332000000,'tagged','{"event":"tagged","said":{"kind":"command","command":"finish"},"words":"tally finish"}');
INSERT INTO "event" VALUES(34,24,X'01A1311CC72070008000000000000428',82540009366,1791825332000000,'finished','{"event":"finished","why":"said"}');
INSERT INTO "event" VALUES(47,0,X'01A17E8F685070008000000000000588',0,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"command","command":"begin"},"words":"tally begin"}');
INSERT INTO "event" VALUES(47,1,X'01A17E8F685070008000000000000589',0,1793124690000000,'began','{"event":"began","step":5}');
INSERT INTO "event" VALUES(47,2,X'01A17E8F68507000800000000000058A',910503619,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(47,3,X'01A17E8F68507000800000000000058B',4606200786,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"rep"},"words":"yes"}');
INSERT INTO "event" VALUES(47,4,X'01A17E8F68507000800000000000058C',8433689585,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(47,5,X'01A17E8F68507000800000000000058D',15851799832,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"rep","step":5},"words":"yes five"}');
INSERT INTO "event" VALUES(47,6,X'01A17E8F68507000800000000000058E',19712653414,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(47,7,X'01A17E8F68507000800000000000058F',23537142510,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"rep","side":"left"},"words":"yes left"}');
INSERT INTO "event" VALUES(47,8,X'01A17E8F685070008000000000000590',27293241749,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(47,9,X'01A17E8F685070008000000000000591',31292082729,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"rep"},"words":"yes"}');
INSERT INTO "event" VALUES(47,10,X'01A17E8F685070008000000000000592',34762602771,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(47,11,X'01A17E8F685070008000000000000593',37597231158,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"rep"},"words":"yes"}');
INSERT INTO "event" VALUES(47,12,X'01A17E8F685070008000000000000594',42434562146,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(47,13,X'01A17E8F685070008000000000000595',46665351404,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"rep"},"words":"yes"}');
INSERT INTO "event" VALUES(47,14,X'01A17E8F685070008000000000000596',47000000000,1793124690000000,'nudged','{"event":"nudged","nudge":"budget_low","reason":{"detector":"treats","because":"1.2 of the day''s 2.0 kcal in treats given","inputs":[{"name":"treats today","value":1.2,"unit":"kcal"},{"name":"the day''s budget for treats","value":1.9544597555061802,"unit":"kcal"},{"name":"speak up at","value":0.8,"unit":"kcal left"}],"method":"share of the daily energy need (allometric) that treats may take","source":"Small Animal Clinical Nutrition, 5th ed., table 5-2; Hand-Rearing Birds, 2nd ed., tables B.1 and B.2; share: WSAVA and AAHA, as stated in Veterinary Sciences 2025, 12:282. A veterinarian''s number comes first."}}');
INSERT INTO "event" VALUES(47,15,X'01A17E8F685070008000000000000597',50491888722,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(47,16,X'01A17E8F685070008000000000000598',53220285779,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"rep"},"words":"yes"}');
INSERT INTO "event" VALUES(47,17,X'01A17E8F685070008000000000000599',58173916595,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"cue"},"words":"cue"}');
INSERT INTO "event" VALUES(47,18,X'01A17E8F68507000800000000000059A',68336670529,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"rep"},"words":"yes"}');
INSERT INTO "event" VALUES(47,19,X'01A17E8F68507000800000000000059B',70504135659,1793124690000000,'tagged','{"event":"tagged","said":{"kind":"command","command":"finish"},"words":"tally finish"}');
INSERT INTO "event" VALUES(47,20,X'01A17E8F68507000800000000000059C',70504135659,1793124690000000,'finished','{"event":"finished","why":"said"}');
INSERT INTO "rep" VALUES(34,1,8064699579,8064699579,5,5,'high',NULL,7290131356,NULL,X'01A1311CC72070008000000000000413',0);
INSERT INTO "rep" VALUES(34,2,18057218722,18057218722,5,5,'high',NULL,4516318486,NULL,X'01A1311CC72070008000000000000415',0);
INSERT INTO "rep" VALUES(34,3,25114258504,25114258504,5,5,'missed',NULL,3491904661,NULL,X'01A1311CC72070008000000000000417',0);
INSERT INTO "rep" VALUES(34,4,28387645324,28387645324,5,5,'high',NULL,2195527860,NULL,X'01A1311CC72070008000000000000419',0);
INSERT INTO "rep" VALUES(34,5,35087332845,35087332845,5,5,'high','right',2427098680,NULL,X'01A1311CC7207000800000000000041B',0);
INSERT INTO "rep" VALUES(34,6,49869137723,49869137723,5,5,'high',NULL,11026509176,NULL,X'01A1311CC7207000800000000000041D',0);
INSERT INTO "rep" VALUES(34,7,59732551722,59732551722,5,5,'high',NULL,6534123325,NULL,X'01A1311CC7207000800000000000041F',0);
INSERT INTO "rep" VALUES(34,8,68981240013,68981240013,5,5,'high',NULL,4883333533,NULL,X'01A1311CC72070008000000000000422',0);
INSERT INTO "rep" VALUES(34,9,78121702280,78121702280,5,5,'high',NULL,1751700868,NULL,X'01A1311CC72070008000000000000425',0);
INSERT INTO "rep" VALUES(47,1,4606200786,4606200786,5,5,'high',NULL,3695697167,NULL,X'01A17E8F68507000800000000000058B',0);
INSERT INTO "rep" VALUES(47,2,15851799832,15851799832,5,5,'high',NULL,7418110247,NULL,X'01A17E8F68507000800000000000058D',0);
INSERT INTO "rep" VALUES(47,3,23537142510,23537142510,5,5,'high','left',3824489096,NULL,X'01A17E8F68507000800000000000058F',0);
INSERT INTO "rep" VALUES(47,4,31292082729,31292082729,5,5,'high',NULL,3998840980,NULL,X'01A17E8F685070008000000000000591',0);
INSERT INTO "rep" VALUES(47,5,37597231158,37597231158,5,5,'high',NULL,2834628387,NULL,X'01A17E8F685070008000000000000593',0);
INSERT INTO "rep" VALUES(47,6,46665351404,46665351404,5,5,'high',NULL,4230789258,NULL,X'01A17E8F685070008000000000000595',0);
INSERT INTO "rep" VALUES(47,7,53220285779,53220285779,5,5,'high',NULL,2728397057,NULL,X'01A17E8F685070008000000000000598',0);
INSERT INTO "rep" VALUES(47,8,68336670529,68336670529,5,5,'high',NULL,10162753934,NULL,X'01A17E8F68507000800000000000059A',0);
INSERT INTO "mark" VALUES(34,1,0,0,'command','begin',X'01A1311CC72070008000000000000410');
INSERT INTO "mark" VALUES(34,2,0,0,'began','5',X'01A1311CC72070008000000000000411');
INSERT INTO "mark" VALUES(34,3,774568223,774568223,'cue','',X'01A1311CC72070008000000000000412');
INSERT INTO "mark" VALUES(34,4,13540900236,13540900236,'cue','',X'01A1311CC72070008000000000000414');
INSERT INTO "mark" VALUES(34,5,21622353843,21622353843,'cue','',X'01A1311CC72070008000000000000416');
INSERT INTO "mark" VALUES(34,6,26192117464,26192117464,'cue','',X'01A1311CC72070008000000000000418');
INSERT INTO "mark" VALUES(34,7,32660234165,32660234165,'cue','',X'01A1311CC7207000800000000000041A');
INSERT INTO "mark" VALUES(34,8,38842628547,38842628547,'cue','',X'01A1311CC7207000800000000000041C');
INSERT INTO "mark" VALUES(34,9,53198428397,53198428397,'cue','',X'01A1311CC7207000800000000000041E');
INSERT INTO "mark" VALUES(34,10,60000000000,60000000000,'nudge','budget_low',X'01A1311CC72070008000000000000420');
INSERT INTO "mark" VALUES(34,11,64097906480,64097906480,'cue','',X'01A1311CC72070008000000000000421');
INSERT INTO "mark" VALUES(34,12,72517106240,72517106240,'cue','',X'01A1311CC72070008000000000000423');
INSERT INTO "mark" VALUES(34,13,76370001412,76370001412,'cue','',X'01A1311CC72070008000000000000424');
INSERT INTO "mark" VALUES(34,14,81000000000,81000000000,'nudge','end_soon',X'01A1311CC72070008000000000000426');
INSERT INTO "mark" VALUES(34,15,82540009366,82540009366,'command','finish',X'01A1311CC72070008000000000000427');
INSERT INTO "mark" VALUES(34,16,82540009366,82540009366,'finished','said',X'01A1311CC72070008000000000000428');
INSERT INTO "mark" VALUES(47,1,0,0,'command','begin',X'01A17E8F685070008000000000000588');
INSERT INTO "mark" VALUES(47,2,0,0,'began','5',X'01A17E8F685070008000000000000589');
INSERT INTO "mark" VALUES(47,3,910503619,910503619,'cue','',X'01A17E8F68507000800000000000058A');
INSERT INTO "mark" VALUES(47,4,8433689585,8433689585,'cue','',X'01A17E8F68507000800000000000058C');
INSERT INTO "mark" VALUES(47,5,19712653414,19712653414,'cue','',X'01A17E8F68507000800000000000058E');
INSERT INTO "mark" VALUES(47,6,27293241749,27293241749,'cue','',X'01A17E8F685070008000000000000590');
INSERT INTO "mark" VALUES(47,7,34762602771,34762602771,'cue','',X'01A17E8F685070008000000000000592');
INSERT INTO "mark" VALUES(47,8,42434562146,42434562146,'cue','',X'01A17E8F685070008000000000000594');
INSERT INTO "mark" VALUES(47,9,47000000000,47000000000,'nudge','budget_low',X'01A17E8F685070008000000000000596');
INSERT INTO "mark" VALUES(47,10,50491888722,50491888722,'cue','',X'01A17E8F685070008000000000000597');
INSERT INTO "mark" VALUES(47,11,58173916595,58173916595,'cue','',X'01A17E8F685070008000000000000599');
INSERT INTO "mark" VALUES(47,12,70504135659,70504135659,'command','finish',X'01A17E8F68507000800000000000059B');
INSERT INTO "mark" VALUES(47,13,70504135659,70504135659,'finished','said',X'01A17E8F68507000800000000000059C');
INSERT INTO "session_summary" VALUES(34,25,82540009366,8,1,0,8,0,5,5,4516318486,NULL,0,0,'end_soon',1,'said');
INSERT INTO "session_summary" VALUES(47,21,70504135659,8,0,0,8,0,5,5,3911665038,NULL,0,0,'budget_low',1,'said');
